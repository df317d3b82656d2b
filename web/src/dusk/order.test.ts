import { describe, expect, it } from 'vitest';
import { arrange, type Candidate } from './order';

const object = (name: string, kind: string, minutes: number, need: number | null): Candidate =>
  ({ name, title: name, kind, constellation: 'Cygnus', equivalent_min: minutes, worth_percent: minutes / 5, highest_alt_deg: minutes / 5, needed_h: need, size_arcmin: 10 }) as Candidate;
const all = [object('M 101', 'galaxy', 300, 8), object('M 33', 'galaxy', 200, 3), object('NGC 6992', 'nebula', 250, null)];
const names = (list: Candidate[]) => list.map((c) => c.name);

describe('candidates', () => {
  it('finds by name with or without the blank, kind and constellation together', () => {
    expect(names(arrange(all, 'm33', 'worth', false))).toEqual(['M 33']);
    expect(names(arrange(all, 'cygnus nebula', 'worth', false))).toEqual(['NGC 6992']);
    expect(arrange(all, 'nothing', 'worth', false)).toEqual([]);
  });
  it('sorts by what is asked, numbers in names as numbers', () => {
    expect(names(arrange(all, '', 'name', true))).toEqual(['M 33', 'M 101', 'NGC 6992']);
    expect(names(arrange(all, '', 'worth', false))).toEqual(['M 101', 'NGC 6992', 'M 33']);
  });
  it('puts the smallest need first, and last what has none stated', () => {
    expect(names(arrange(all, '', 'need', false))).toEqual(['M 33', 'M 101', 'NGC 6992']);
  });
});
