import { describe, expect, it } from 'vitest';
import { changesOf, History, kAutomatic, switched, typed, valueOf, wished, wishesOf, type Key, type Step } from './recipe';

const number: Key = { name: 'strength', kind: 'number', low: 0, high: 1, meaning: '', found: false, value: 0.7 };
const whole: Key = { name: 'degree', kind: 'whole', low: 0, high: 4, meaning: '', found: true, value: null };
const steps: Step[] = [
  { name: 'background', always: false, on: true, keys: [whole] },
  { name: 'noise', always: false, on: true, keys: [number] },
  { name: 'encode', always: true, on: true, keys: [{ ...number, name: 'bits', kind: 'whole', low: 8, high: 16, value: 16 }] },
];

describe('recipe', () => {
  it('sends what differs and nothing else', () => {
    expect(changesOf(steps, kAutomatic)).toEqual([]);
    const w = wished(switched(kAutomatic, 'background', false), 'noise', number, 0.9);
    expect(changesOf(steps, w)).toEqual([
      { step: 'background', on: false, values: {} },
      { step: 'noise', on: true, values: { strength: 0.9 } },
    ]);
    expect(valueOf(w, 'noise', number)).toBe(0.9);
    expect(changesOf(steps, wished(switched(w, 'background', true), 'noise', number, 0.7))).toEqual([]);
    expect(changesOf(steps, wished(kAutomatic, 'encode', steps[2]!.keys[0]!, 8))).toEqual([{ step: 'encode', on: null, values: { bits: 8 } }]);
  });
  it('reads what was typed, and refuses what does not fit', () => {
    expect(typed(number, '0,25')).toEqual({ value: 0.25 });
    expect(typed(number, '')).toEqual({ wrong: [0, 1] });
    expect(typed(number, '1.01')).toEqual({ wrong: [0, 1] });
    expect(typed(whole, '2')).toEqual({ value: 2 });
    expect(typed(whole, '2.5')).toEqual({ wrong: [0, 4] });
    expect(typed(whole, '')).toEqual({ value: null });
    expect(typed(number, 'much')).toEqual({ wrong: [0, 1] });
  });
  it('takes settings over, not what was found', () => {
    const other: Step[] = [
      { ...steps[0]!, keys: [{ ...whole, value: 3 }] },
      { ...steps[1]!, on: false, keys: [{ ...number, value: 0.2 }] },
    ];
    expect(wishesOf(steps, other)).toEqual({ off: ['noise'], values: { 'noise.strength': 0.2 } });
  });
  it('goes back and forth, and forgets what was undone when something new is done', () => {
    let h = new History([1]).with(2).with(3);
    expect(h.undo().now).toBe(2);
    expect(h.undo().redo().now).toBe(3);
    h = h.undo().undo().with(9);
    expect([h.now, h.canRedo, h.states]).toEqual([9, false, [1, 9]]);
    expect(h.undo().undo().now).toBe(1);
  });
});
