/** Prometheus metrics, one registry per service (no shared module state). */
import { collectDefaultMetrics, Counter, Histogram, Registry } from 'prom-client';

export interface Metrics {
  readonly registry: Registry;
  observe(operationId: string, status: number, seconds: number): void;
}

export function createMetrics(): Metrics {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  const requests = new Counter({
    name: 'sealtrail_requests_total',
    help: 'Requests answered, by operation and status',
    labelNames: ['operation', 'status'],
    registers: [registry],
  });
  const durations = new Histogram({
    name: 'sealtrail_request_duration_seconds',
    help: 'Time to answer, by operation',
    labelNames: ['operation'],
    buckets: [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10],
    registers: [registry],
  });
  return {
    registry,
    observe(operationId, status, seconds) {
      requests.inc({ operation: operationId, status: String(status) });
      durations.observe({ operation: operationId }, seconds);
    },
  };
}
