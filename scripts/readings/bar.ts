/** A progress bar: written over on a terminal, a line for every ten percent elsewhere. */
const WIDTH = 40;
const STEP = 10;

export interface Bar {
  /** `percent`: 0 to 100; a new step begins at its own 0 */
  show(step: string, percent: number): void;
  end(): void;
}

export function showBar(out: { write(text: string): unknown; readonly isTTY?: boolean }): Bar {
  let last = '';
  return {
    show(step, percent) {
      const whole = Math.floor(Math.max(0, Math.min(100, percent)));
      const full = Math.round((whole / 100) * WIDTH);
      const shown = out.isTTY ? whole : whole - (whole % STEP);
      const key = `${step} ${shown}`;
      if (key === last) return;
      last = key;
      const bar = `[${'#'.repeat(full)}${'.'.repeat(WIDTH - full)}] ${String(whole).padStart(3)} % ${step}`;
      out.write(out.isTTY ? `\r\u001b[K${bar}` : `${bar}\n`);
    },
    end() {
      if (out.isTTY) out.write('\n');
    },
  };
}
