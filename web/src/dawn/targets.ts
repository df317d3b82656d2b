// The library by target, then by night.
import type { LibraryReply } from '../api/services';

type Line = LibraryReply['frames'][number];
export interface Night {
  night: string;
  frames: Line[];
  filters: { filter: string; frames: number }[];
}
export interface Target {
  target: string;
  hours: number;
  filters: LibraryReply['hours'];
  nights: Night[];
}

function group<T>(items: T[], key: (item: T) => string): [string, T[]][] {
  const groups = new Map<string, T[]>();
  for (const item of items) groups.set(key(item), [...(groups.get(key(item)) ?? []), item]);
  return [...groups];
}

// Most hours first, the latest night first.
export function targetsOf(reply: LibraryReply): Target[] {
  return group(reply.frames.filter((f) => f.kind === 'light'), (f) => f.target)
    .map(([target, lights]) => {
      const filters = reply.hours.filter((h) => h.target === target);
      const nights = group(lights, (f) => f.night)
        .map(([night, frames]) => ({ night, frames, filters: group(frames, (f) => f.filter).map(([filter, f]) => ({ filter, frames: f.length })) }))
        .sort((a, b) => (a.night < b.night ? 1 : -1));
      return { target, filters, nights, hours: filters.reduce((sum, h) => sum + h.hours, 0) };
    })
    .sort((a, b) => b.hours - a.hours);
}
