/** One ledger line of the report, as finance reads it. */
export interface BookLine {
  /** the site's date, YYYY-MM-DD */
  readonly occurredOn: string;
  readonly siteName: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly lotCode: string;
  /** as in items */
  readonly line: string;
  /** the site's own code */
  readonly reason: string | null;
  readonly destination: string | null;
  readonly material: string | null;
  /** signed as its line is */
  readonly quantity: number;
  readonly unit: string;
  /** to the milligram */
  readonly grams: number;
  /** parts of a minor unit included: lines are not rounded, the report's rows are, once */
  readonly valueMinor: number;
  readonly entryId: string;
  /** RFC 3339, UTC */
  readonly recordedAt: string;
  /** the closed month in which it happened, when it was recorded after the close */
  readonly lateMonth: string | null;
}

/** Lines of one site, item and kind added up, where there are more of them than a workbook should hold. */
export type BookSum = Omit<BookLine, 'occurredOn' | 'lotCode' | 'entryId' | 'recordedAt' | 'lateMonth'>;

/** `beyond`: there are more postings than this, moves within a site counted too. */
export interface BookSums {
  readonly sums: readonly BookSum[];
  readonly beyond: number;
}
