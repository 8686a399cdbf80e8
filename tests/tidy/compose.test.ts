/** The files for running in containers, read as what they are: nobody here can be sure to have Docker. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';

const root = path.resolve(import.meta.dirname, '../..');
const read = (name: string): string => readFileSync(path.join(root, name), 'utf8');

interface Service {
  image?: string;
  build?: string;
  environment: Record<string, string>;
  healthcheck: { test: string[]; interval: string; retries: number };
  depends_on?: Record<string, { condition: string }>;
  ports?: string[];
}

const compose = parse(read('docker-compose.yml')) as { services: { service: Service; database: Service } };
const { service, database } = compose.services;
/** Instructions with their continued lines joined, comments left out. */
const docker = read('Dockerfile')
  .replaceAll(/^#.*\n/gm, '')
  .replaceAll(/\\\n/g, ' ')
  .split('\n')
  .filter((line) => line.trim() !== '');

describe('docker-compose.yml', () => {
  it('has the service and its database, and nothing that nobody asked for', () => {
    expect(Object.keys(compose.services).sort()).toEqual(['database', 'service']);
    expect(service.build).toBe('.');
    expect(database.image).toMatch(/^postgres:\d+$/);
  });

  it('starts the service once the database is healthy, and asks both how they are', () => {
    expect(service.depends_on).toEqual({ database: { condition: 'service_healthy' } });
    expect(service.healthcheck.test.join(' ')).toContain('/readyz');
    expect(database.healthcheck.test).toContain('pg_isready');
    for (const one of [service, database]) expect(one.healthcheck.retries).toBeGreaterThan(0);
  });

  it('has no default for a secret and no demo data', () => {
    expect(service.environment['TOKEN_SECRET']).toMatch(/^\$\{TOKEN_SECRET:\?.+\}$/);
    expect(database.environment['POSTGRES_PASSWORD']).toMatch(/^\$\{POSTGRES_PASSWORD:\?.+\}$/);
    expect(service.environment['DATABASE_URL']).toContain('${POSTGRES_PASSWORD:?');
    expect(service.environment).toMatchObject({ NODE_ENV: 'production', DEMO: 'no' });
  });

  it('opens no port of the database, and the service to this machine only', () => {
    expect(database.ports).toBeUndefined();
    for (const port of service.ports ?? []) expect(port).toMatch(/^127\.0\.0\.1:/);
  });
});

describe('Dockerfile', () => {
  it('names the version of every image', () => {
    const images = docker.filter((line) => line.startsWith('FROM ')).map((line) => line.split(' ')[1] ?? '');
    expect(images.length).toBeGreaterThan(0);
    for (const image of images) expect(image).toMatch(/^node:20\.\d+-[a-z]+-slim$/);
    expect(read('Dockerfile') + read('docker-compose.yml')).not.toMatch(/:latest\b/);
  });

  it('runs the service as a user without rights, directly under node, and asks whether it is ready', () => {
    const users = docker.filter((line) => line.startsWith('USER '));
    const command = docker.findIndex((line) => line.startsWith('CMD '));
    expect(users).toEqual(['USER node']);
    expect(docker.findIndex((line) => line.startsWith('USER '))).toBeLessThan(command);
    expect(JSON.parse((docker[command] ?? '').slice(4))).toEqual(['node', '--import', 'tsx', 'src/main.ts']);
    expect(docker.find((line) => line.startsWith('HEALTHCHECK '))).toContain('/readyz');
  });

  it('takes in only what .dockerignore lets through', () => {
    const ignore = read('.dockerignore')
      .split('\n')
      .filter((line) => line !== '' && !line.startsWith('#'));
    expect(ignore[0]).toBe('*');
    const letThrough = ignore.slice(1).map((line) => line.replace(/^!/, ''));
    const copied = docker
      .filter((line) => line.startsWith('COPY ') && !line.includes('--from='))
      .flatMap((line) => line.split(' ').slice(1, -1));
    expect([...new Set(copied)].sort()).toEqual([...letThrough].sort());
  });
});
