/**
 * From the first signal to the end of the process: what was started is stopped in reverse order, whatever started it.
 *
 * Stopping is asked for by SIGTERM or SIGINT (exit code 0), by an error that nobody caught or by the end of something that the service
 * cannot do without (exit code 1). It may be asked for at any time, also half-way through the start. A further signal ends the
 * process at once; Postgres then goes down by itself (see platform/postgres).
 */
import type { Log } from '../platform/log.ts';

/** npm hands Ctrl-C on to us although the terminal has done so too: a second signal so soon is the same one. */
const SAME_SIGNAL_MS = 1_000;
/** Longer than everything that is waited for in order; after it, whatever hangs is left to the operating system. */
const STOP_LIMIT_MS = 60_000;

export interface Lifetime {
  /** Registers how to stop what has just been started. Called in reverse order, once. */
  onStop(what: string, stop: () => Promise<void> | void): void;
  /** Ends the process with `code` when all is stopped; the first call wins. Never resolves. */
  stop(code: number): Promise<never>;
  stopping(): boolean;
}

export function beginLifetime(log: Log): Lifetime {
  const stops: { what: string; stop: () => Promise<void> | void }[] = [];
  let stopping = false;
  let insistent = false;

  const never = (): Promise<never> => new Promise<never>(() => undefined);

  async function stop(code: number): Promise<never> {
    if (stopping) return never();
    stopping = true;
    setTimeout(() => {
      log.error('stopping takes too long; ending without the rest');
      process.exit(1);
    }, STOP_LIMIT_MS).unref();
    let worst = code;
    for (let next = stops.pop(); next !== undefined; next = stops.pop()) {
      try {
        await next.stop();
      } catch (error) {
        log.error({ err: error }, `could not stop: ${next.what}`);
        worst = 1;
      }
    }
    log.info({ code: worst }, 'stopped');
    process.exit(worst);
  }

  function onSignal(signal: NodeJS.Signals): void {
    if (insistent) process.exit(1);
    if (stopping) return;
    log.info({ signal }, 'stopping; a second signal ends it at once');
    setTimeout(() => (insistent = true), SAME_SIGNAL_MS).unref();
    void stop(0);
  }

  function onUncaught(error: unknown): void {
    log.fatal({ err: error }, 'an error that nobody caught; stopping');
    void stop(1);
  }

  process.on('SIGTERM', onSignal);
  process.on('SIGINT', onSignal);
  process.on('uncaughtException', onUncaught);
  process.on('unhandledRejection', onUncaught);
  return {
    stop,
    stopping: () => stopping,
    onStop(what, stopIt) {
      stops.push({ what, stop: stopIt });
    },
  };
}
