// Which candidates are shown, and in which order.
import type { TonightReply } from '../api/services';

export type Candidate = TonightReply['objects'][number];
export type Column = 'name' | 'curve' | 'worth' | 'altitude' | 'need' | 'size';

// "M 33" before "M 101": numbers within names count as numbers.
const byName = new Intl.Collator('en', { numeric: true, sensitivity: 'base' });

const value: Record<Exclude<Column, 'name' | 'curve'>, (c: Candidate) => number> = {
  worth: (c) => c.worth_percent,
  altitude: (c) => c.highest_alt_deg,
  need: (c) => -(c.needed_h ?? Number.POSITIVE_INFINITY),
  size: (c) => c.size_arcmin,
};

export function arrange(all: Candidate[], words: string, column: Column, up: boolean): Candidate[] {
  const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
  const shown = all.filter((c) => {
    const about = `${c.title} ${c.name} ${c.name.replace(/\s/g, '')} ${c.kind} ${c.constellation}`.toLowerCase();
    return wanted.every((w) => about.includes(w));
  });
  const sign = up ? 1 : -1;
  if (column === 'name') return shown.sort((a, b) => sign * byName.compare(a.title, b.title));
  if (column === 'curve') return shown.sort((a, b) => sign * (a.transit < b.transit ? -1 : a.transit > b.transit ? 1 : 0));
  const of = value[column];
  return shown.sort((a, b) => sign * (of(a) - of(b)) || 0);
}
