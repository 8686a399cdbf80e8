/** A notice to hang up: the same words as were sent. */
import { noticeBlocks } from '../../../domain/recall/notice.ts';
import { renderSheet } from '../../../platform/pdf/sheet.ts';
import type { NoticeRow } from './store.ts';

export function printNotice(notice: NoticeRow): Promise<Buffer> {
  const [headline = [], about = [], steps = [], lots = []] = noticeBlocks(notice.text);
  const [title = '', ...under] = headline;
  const listed = lots.filter((line) => line.startsWith('- '));
  const rest = lots.filter((line) => !line.startsWith('- '));
  return renderSheet({
    title,
    subtitle: under.join('\n'),
    code: notice.recallCode,
    sections: [
      { heading: 'What it is about', columns: [{ title: '', share: 1 }], rows: [], none: about.join('\n') },
      { heading: 'What to do now', columns: [{ title: '', share: 1 }], rows: [], none: steps.join('\n') },
      {
        heading: `Lots (${notice.lotCount})`,
        note: rest.join(' '),
        columns: [
          { title: 'Food and lot code', share: 4 },
          { title: 'Recorded', share: 3 },
          { title: 'Found', share: 1 },
          { title: 'What was done with it', share: 2 },
        ],
        rows: listed.map((line) => {
          const at = line.lastIndexOf(': ');
          return [{ bold: line.slice(2, at) }, line.slice(at + 2), null, null];
        }),
        rowMm: 8,
      },
    ],
    foot: `Case ${notice.recallCode}, notice ${notice.noticeNo}. ${notice.drill ? 'A drill. ' : ''}In doubt: do not serve it, and ask the quality lead.`,
    madeAtMs: notice.sentAt.getTime(),
  });
}
