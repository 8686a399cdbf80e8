/** Structured logs. Secrets never reach them: headers and bodies that may hold one are cut out here, in one place. */
import { pino, type Logger } from 'pino';

export type Log = Logger;

export function createLog(level: string): Log {
  return pino({
    level,
    base: null,
    timestamp: pino.stdTimeFunctions.isoTime,
    redact: {
      paths: ['req.headers.authorization', 'req.headers.cookie', '*.password', '*.token', '*.secret'],
      censor: '[cut]',
    },
  });
}
