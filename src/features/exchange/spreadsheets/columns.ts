/** Columns of the three sheets. Times come as milliseconds, dates as text; either format makes of them what it needs. */
import type { CellValue, SheetColumn } from '../../../platform/spreadsheet/xlsx.ts';
import type { ExportLotRow, ExportReceiptRow, StockRow } from './queries.ts';

export interface Column<Row> extends SheetColumn {
  readonly value: (row: Row) => CellValue;
}

type Kind = NonNullable<SheetColumn['kind']>;

const column = <Row>(title: string, width: number, value: Column<Row>['value'], kind: Kind = 'text'): Column<Row> => ({
  title,
  width,
  kind,
  value,
});

const MG_PER_G = 1000;
const inGrams = (massMg: number): number => massMg / MG_PER_G;

type Common = Pick<
  StockRow,
  'siteCode' | 'siteName' | 'gln' | 'itemCode' | 'itemName' | 'gtin' | 'lotCode' | 'supplierLotCode'
>;

const site: readonly Column<Common>[] = [
  column('Site code', 12, (row) => row.siteCode),
  column('Site', 28, (row) => row.siteName),
  column('GLN', 15, (row) => row.gln),
];

const food: readonly Column<Common>[] = [
  column('Item code', 14, (row) => row.itemCode),
  column('Item', 30, (row) => row.itemName),
  column('GTIN', 16, (row) => row.gtin),
  column('Lot code', 20, (row) => row.lotCode),
  column('Supplier lot code', 20, (row) => row.supplierLotCode),
];

const amount: readonly Column<{ quantity: number; unit: string }>[] = [
  column('Quantity', 12, (row) => row.quantity, 'number'),
  column('Unit', 8, (row) => row.unit),
];

export const STOCK_COLUMNS: readonly Column<StockRow>[] = [
  ...site,
  column('Place code', 12, (row) => row.placeCode),
  column('Place', 24, (row) => row.placeName),
  ...food,
  ...amount,
  column('Use by', 12, (row) => row.useByDate, 'date'),
  column('Use by at (UTC)', 19, (row) => row.useByAt?.getTime() ?? null, 'time'),
  column('Best before', 12, (row) => row.bestBeforeDate, 'date'),
  column('Holds', 24, (row) => row.holds),
];

export const LOT_COLUMNS: readonly Column<ExportLotRow>[] = [
  ...site,
  ...food,
  column('Origin', 12, (row) => row.origin),
  column('Supplier', 28, (row) => row.supplierName),
  ...amount,
  column('Net mass (g)', 14, (row) => inGrams(row.massMg), 'number'),
  column('Made or taken in at (UTC)', 19, (row) => row.bornAt.getTime(), 'time'),
  column('Use by on the label', 12, (row) => row.printedUseByDate, 'date'),
  column('Use by on the label at (UTC)', 19, (row) => row.printedUseByAt?.getTime() ?? null, 'time'),
  column('Use by in force', 12, (row) => row.useByDate, 'date'),
  column('Use by in force at (UTC)', 19, (row) => row.useByAt?.getTime() ?? null, 'time'),
  column('Best before', 12, (row) => row.bestBeforeDate, 'date'),
  column('Handling', 18, (row) => row.handling),
  column('Allergens', 30, (row) => row.allergens.join(' ')),
  column('May contain', 30, (row) => row.mayContain.join(' ')),
  column('Holds', 24, (row) => row.holds),
];

export const RECEIPT_COLUMNS: readonly Column<ExportReceiptRow>[] = [
  column('Kind', 14, (row) => row.kind),
  column('Day', 12, (row) => row.occurredOn, 'date'),
  column('Received at (UTC)', 19, (row) => row.occurredAt.getTime(), 'time'),
  ...site,
  column('Place code', 12, (row) => row.placeCode),
  column('From', 28, (row) => row.fromName),
  column('Document', 20, (row) => row.document),
  ...food,
  ...amount,
  column('Condition', 14, (row) => row.condition),
  column('Temperature (°C)', 12, (row) => (row.temperatureC === null ? null : Number(row.temperatureC)), 'number'),
  column('Best before', 12, (row) => row.bestBeforeDate, 'date'),
  column('Received by', 22, (row) => row.receivedBy),
  column('Recorded at (UTC)', 19, (row) => row.recordedAt.getTime(), 'time'),
];
