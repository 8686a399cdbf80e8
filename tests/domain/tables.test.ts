/** Tables out of spreadsheets: RFC 4180, section 2, and the delimiters of other countries. */
import { describe, expect, test } from 'vitest';
import { readTableRows } from '../../src/platform/tables.ts';

const read = (csv: string) => readTableRows(csv, 100, (detail) => new Error(detail));

describe('rows of a table', () => {
  test.each([
    ['commas', 'a,b\n1,2\n'],
    ['semicolons', 'a;b\r\n1;2\r\n'],
    ['tabs, with a byte order mark', '\ufeffa\tb\n1\t2'],
    ['quotes around every cell', '"a","b"\n"1","2"'],
  ])('%s', (_, csv) => {
    expect(read(csv)).toEqual([
      { row: 1, cells: ['a', 'b'] },
      { row: 2, cells: ['1', '2'] },
    ]);
  });

  test('rows that are empty are left out, and the others keep the numbers that people see', () => {
    expect(read('a,b\n\n,\n1,2').map(({ row }) => row)).toEqual([1, 4]);
  });

  test('a quotation mark that stays open is refused in words', () => {
    expect(() => read('a,b\n"1,2')).toThrow(/^The table cannot be read.*quotation mark/);
  });
});
