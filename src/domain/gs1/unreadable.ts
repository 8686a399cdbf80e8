/** Why a scan could not be read, and where. Raised by every reader of this folder; whoever scans turns it into an answer. */
export class ScanUnreadable extends Error {
  /** index of the first character that cannot stand where it stands, from 0, in what was handed in */
  readonly position: number;
  /** for a person, in plain words */
  readonly reason: string;
  constructor(position: number, reason: string) {
    super(`${reason} (position ${position})`);
    this.name = 'ScanUnreadable';
    this.position = position;
    this.reason = reason;
  }
}
