/** Replies are checked against the contract before the transaction commits: what was not promised is not said. */
import type { AnswerShape, Operation, Reply } from './contract.ts';

function shapesOf(operation: Operation, status: number): readonly AnswerShape[] {
  const shapes = operation.answers[status];
  if (!shapes) return [];
  return Array.isArray(shapes) ? (shapes as readonly AnswerShape[]) : [shapes as AnswerShape];
}

export function declares(operation: Operation, status: number, header: 'Location' | 'ETag' | 'Link'): boolean {
  return shapesOf(operation, status).some((shape) => shape.headers?.includes(header) ?? false);
}

export function contentTypesOf(operation: Operation): string[] {
  const all = Object.keys(operation.answers).flatMap((status) => shapesOf(operation, Number(status)));
  return [...new Set(all.map((shape) => shape.contentType ?? 'application/json'))];
}

class ReplyBreaksContract extends Error {}

/** Returns the reply; throws ReplyBreaksContract when status, headers or body are not as promised. */
export function checkReply(operation: Operation, reply: Reply): Reply {
  // What is sent before the commit cannot be taken back.
  if (reply.stream && operation.mode !== 'read') throw new ReplyBreaksContract(`${operation.id}: only reads stream`);
  const type = (reply.stream ?? reply.live ?? reply.raw)?.contentType ?? 'application/json';
  const wanted = type.split(';')[0] ?? '';
  const shape = shapesOf(operation, reply.status).find((one) => (one.contentType ?? 'application/json') === wanted);
  if (!shape) throw new ReplyBreaksContract(`${operation.id}: ${reply.status} ${wanted} is not in its contract`);
  for (const header of shape.headers ?? []) {
    if (header !== 'Link' && !reply.headers?.[header])
      throw new ReplyBreaksContract(`${operation.id}: ${header} is missing`);
  }
  if (reply.stream || reply.live || reply.raw || !shape.schema) return reply;
  const result = shape.schema.safeParse(reply.body);
  if (!result.success) {
    const issue = result.error.issues[0];
    throw new ReplyBreaksContract(`${operation.id}: ${issue?.path.join('/')}: ${issue?.message}`);
  }
  return reply;
}
