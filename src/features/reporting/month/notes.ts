/** What every month's figures rest on and leave out. */
export const NOTES: readonly string[] = [
  'Gram figures of the summary, of waste by reason, destination and stage, and the percentages are without packaging (Food Loss and Waste Standard 1.0, 2016). Money is of everything.',
  'What was undone is taken off the line on which it stood. What was recorded about a month after it was closed stands in the next month that was open then, and again under late.',
  'Each row is rounded once, so that it adds up; totals are sums of what is printed. A site is printed as in its own report: the sites can differ from the totals by the rounding of their rows.',
  'Waste is what was discarded. What was lost inside batches stands beside it, by destination, and is in no row of stock: it is part of what was put to use in making. Cooking loss is water that left as steam and no waste. Neither has money of its own: the good output carries planned loss; what was lost beyond plan is in making.',
  'Stages are those of Delegated Decision (EU) 2019/1597; a reason without a stage of its site goes under the stage where it usually arises (common practice).',
];
