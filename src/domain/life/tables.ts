/**
 * Time-temperature tables: how many hours food keeps at each of some temperatures. Used as a cook would use one: a temperature between two
 * rows counts as the warmer row, one below the coldest row as the coldest, and above the warmest row the table allows nothing.
 * The source of a table is the source of its rows.
 */
import { warmestC, type Piece } from './exposure.ts';

interface TableRow {
  readonly temperatureC: number;
  readonly lifeH: number;
}

/**
 * Share of the table's life that the pieces took; Infinity when one was warmer than the warmest row. A piece along a line counts at its
 * warmer end.
 * @throws RangeError when the table is empty, or gives a warmer temperature as long a life as a colder one, or none at all
 */
export function usedByTable(rows: readonly TableRow[], pieces: readonly Piece[]): number {
  const ascending = [...rows].sort((a, b) => a.temperatureC - b.temperatureC);
  const falls = ascending.every((row, at) => {
    const colder = ascending[at - 1];
    return row.lifeH > 0 && (!colder || (row.temperatureC > colder.temperatureC && row.lifeH < colder.lifeH));
  });
  if (ascending.length === 0 || !falls) throw new RangeError('The life in a table must fall with each warmer row');
  return pieces.reduce((used, piece) => {
    const row = ascending.find(({ temperatureC }) => temperatureC >= warmestC(piece));
    return row ? used + piece.durationH / row.lifeH : Infinity;
  }, 0);
}
