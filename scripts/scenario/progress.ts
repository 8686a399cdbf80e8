/** How far it is: one line that is written over on a terminal, a line a day elsewhere. */
import type { Tally } from './api.ts';

export interface Progress {
  day(done: number): void;
  end(): void;
}

export function showProgress(
  out: { write(text: string): unknown; readonly isTTY?: boolean },
  days: number,
  tally: Tally,
  elapsedS: () => number,
): Progress {
  return {
    day(done) {
      const seconds = elapsedS();
      const rate = seconds > 0 ? Math.round(tally.calls / seconds) : 0;
      const left = timeOf((seconds / done) * (days - done));
      const line = `day ${done} of ${days}, ${tally.calls} calls, ${rate} calls/s, ${left} left`;
      out.write(out.isTTY ? `\r\u001b[K${line}` : `${line}\n`);
    },
    end() {
      if (out.isTTY) out.write('\n');
    },
  };
}

function timeOf(seconds: number): string {
  const whole = Math.round(seconds);
  return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${whole % 60} s`;
}
