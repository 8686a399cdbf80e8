/** The OpenAPI 3.1 document, made from the same contracts that route and validate. */
import { createDocument, type ZodOpenApiOperationObject, type ZodOpenApiPathsObject } from 'zod-openapi';
import { z } from 'zod';
import { errorTable, type ErrorCode } from '../../domain/errors.ts';
import { rolesOf } from '../auth/actor.ts';
import type { AnswerShape, Operation } from '../http/contract.ts';
import { commonErrors, Problem } from '../http/problem.ts';

const HEADERS = {
  Location: z.string().meta({ description: 'Where it is now' }),
  ETag: z.string().meta({ description: 'The version, for If-Match' }),
  Link: z.string().meta({ description: 'rel="next": the next page; rel="latest-version": the state now' }),
};

function answers(operation: Operation): Record<string, object> {
  const made: Record<string, object> = {};
  for (const [status, shapes] of Object.entries(operation.answers)) {
    const list = (Array.isArray(shapes) ? shapes : [shapes]) as readonly AnswerShape[];
    const content: Record<string, object> = {};
    for (const shape of list) {
      content[shape.contentType ?? 'application/json'] = { schema: shape.schema ?? z.string() };
    }
    const names = [...new Set(list.flatMap((shape) => shape.headers ?? []))];
    const others = list.flatMap((shape) => Object.entries(shape.otherHeaders ?? {}));
    const optional = (name: keyof typeof HEADERS) => (name === 'Link' ? HEADERS.Link.optional() : HEADERS[name]);
    made[status] = {
      description: list[0]?.description ?? '',
      content,
      ...((names.length > 0 || others.length > 0) && {
        headers: z.object(Object.fromEntries([...names.map((name) => [name, optional(name)]), ...others])),
      }),
    };
  }
  return made;
}

/** Error codes grouped by their status: one response per status, naming every code that can stand behind it. */
function problems(operation: Operation): Record<string, object> {
  const byStatus = new Map<number, ErrorCode[]>();
  for (const code of new Set([...commonErrors(operation), ...operation.errors])) {
    const { status } = errorTable[code];
    byStatus.set(status, [...(byStatus.get(status) ?? []), code]);
  }
  return Object.fromEntries(
    [...byStatus].map(([status, codes]) => {
      const first = codes[0] ?? 'internal-error';
      const kind = errorTable[first];
      const example = {
        type: operation.problemTypes?.[first] ?? `/problems/${first}`,
        title: kind.title,
        status,
        detail: kind.title,
        code: first,
        advice: kind.advice,
        instance: 'urn:request:01890a5d-ac96-774b-bcce-b302099a8057',
      };
      const description = codes.map((code) => `\`${code}\`: ${errorTable[code].title}`).join('\n\n');
      return [String(status), { description, content: { 'application/problem+json': { schema: Problem, example } } }];
    }),
  );
}

function operationObject(operation: Operation): ZodOpenApiOperationObject {
  const headers: Record<string, z.ZodType> = { ...operation.headers?.shape };
  if (operation.naming === 'fact') {
    headers['idempotency-key'] = z.string().optional().meta({ description: 'A UUID; may stand for id in the body' });
  }
  if (operation.naming === 'offered') {
    headers['idempotency-key'] = z.string().optional().meta({ description: 'A UUID; becomes its id' });
  }
  if (operation.conditional) headers['if-match'] = z.string().meta({ description: 'The ETag that was read' });
  const { params, query, body } = operation.example;
  const exampled = (schema: z.ZodObject, values: Readonly<Record<string, string>> | undefined) =>
    z.object(
      Object.fromEntries(
        Object.entries(schema.shape as Record<string, z.ZodType>).map(([name, field]) => [
          name,
          values?.[name] === undefined ? field : field.meta({ ...field.meta(), example: values[name] }),
        ]),
      ),
    );
  const who =
    operation.permission === 'public'
      ? 'Open to anyone.'
      : `Permission \`${operation.permission}\`: ${rolesOf(operation.permission).join(', ')}.`;
  return {
    operationId: operation.id,
    tags: [operation.tag],
    summary: operation.summary,
    description: [operation.description, who].filter(Boolean).join('\n\n'),
    ...(operation.permission === 'public' && { security: [] }),
    'x-permission': operation.permission,
    requestParams: {
      ...(operation.params && { path: exampled(operation.params, params) }),
      ...(operation.query && { query: exampled(operation.query, query) }),
      ...(Object.keys(headers).length > 0 && { header: z.object(headers) }),
    },
    ...(operation.body && {
      requestBody: {
        required: true,
        content: { 'application/json': { schema: operation.body, ...(body !== undefined && { example: body }) } },
      },
    }),
    ...(operation.rawBody && {
      requestBody: {
        required: true,
        content: Object.fromEntries(
          Object.entries(operation.rawBody.types).map(([type, { schema, description }], at) => [
            type,
            {
              schema: schema ?? z.string().meta({ description: description ?? '' }),
              ...(at === 0 && body !== undefined && { example: body }),
            },
          ]),
        ),
      },
    }),
    responses: { ...answers(operation), ...problems(operation) },
  } as ZodOpenApiOperationObject;
}

export interface TagText {
  readonly name: string;
  readonly description: string;
}

export function openApiDocument(operations: readonly Operation[], tags: readonly TagText[], version: string): object {
  const paths: ZodOpenApiPathsObject = {};
  for (const operation of operations) {
    paths[operation.path] = { ...paths[operation.path], [operation.method]: operationObject(operation) };
  }
  return createDocument(
    {
      openapi: '3.1.1',
      info: {
        title: 'Sealtrail',
        version,
        description:
          'The record of every vacuum-packed batch, from central kitchen to plate. Decision support for trained staff: it ' +
          "never replaces the group's food-safety plan, local food law or a competent person.",
        license: { name: 'Proprietary', identifier: 'LicenseRef-Proprietary' },
      },
      servers: [{ url: '/' }],
      security: [{ bearer: [] }],
      components: { securitySchemes: { bearer: { type: 'http', scheme: 'bearer', bearerFormat: 'JWT' } } },
      tags: [...tags],
      paths,
    },
    {
      override: ({ jsonSchema }) => {
        if (jsonSchema.maximum === Number.MAX_SAFE_INTEGER) delete jsonSchema.maximum;
        if (jsonSchema.minimum === Number.MIN_SAFE_INTEGER) delete jsonSchema.minimum;
      },
    },
  );
}
