// A recipe as a person changes it: steps switched on and off, values of their own, and the way back.
import type { FinishRequest, RecipeReply } from '../api/services';

export type Step = RecipeReply['steps'][number];
export type Key = Step['keys'][number];
// Only what differs from the automatic recipe.
export interface Wishes {
  off: string[];
  values: Record<string, unknown>; // "STEP.KEY"
}

export const kAutomatic: Wishes = { off: [], values: {} };

export const switched = (w: Wishes, step: string, on: boolean): Wishes => ({ ...w, off: on ? w.off.filter((s) => s !== step) : [...w.off, step] });

export function wished(w: Wishes, step: string, key: Key, value: unknown): Wishes {
  const values = { ...w.values };
  if (value === key.value) delete values[`${step}.${key.name}`];
  else values[`${step}.${key.name}`] = value;
  return { ...w, values };
}

export const valueOf = (w: Wishes, step: string, key: Key): unknown => w.values[`${step}.${key.name}`] ?? key.value;

// What was typed, as a value of the key; what is wrong with it otherwise.
export function typed(key: Key, words: string): { value: unknown } | { wrong: [number, number] } {
  if (key.kind === 'text') return { value: words.trim() };
  if (words.trim() === '' && key.found) return { value: null };
  const number = Number(words.trim().replace(',', '.'));
  const fits = words.trim() !== '' && number >= key.low && number <= key.high && (key.kind !== 'whole' || Number.isInteger(number));
  return fits ? { value: number } : { wrong: [key.low, key.high] };
}

export function changesOf(steps: Step[], w: Wishes): NonNullable<FinishRequest['changes']> {
  return steps.flatMap((step) => {
    const values: Record<string, unknown> = {};
    for (const key of step.keys) {
      const name = `${step.name}.${key.name}`;
      if (name in w.values) values[key.name] = w.values[name];
    }
    const off = w.off.includes(step.name);
    return off || Object.keys(values).length > 0 ? [{ step: step.name, on: step.always ? null : !off, values }] : [];
  });
}

// What a finished picture's recipe says otherwise than the automatic one; what was found from its data is found anew.
export function wishesOf(automatic: Step[], steps: Step[]): Wishes {
  let wishes = kAutomatic;
  for (const step of automatic) {
    const other = steps.find((s) => s.name === step.name);
    if (!other) continue;
    if (!other.on) wishes = switched(wishes, step.name, false);
    for (const key of step.keys) {
      const value = other.keys.find((k) => k.name === key.name)?.value;
      if (!key.found && key.kind !== 'text' && value !== undefined) wishes = wished(wishes, step.name, key, value);
    }
  }
  return wishes;
}

// States one after the other, and where one stands among them.
export class History<T> {
  constructor(
    readonly states: readonly T[],
    readonly at = states.length - 1,
  ) {}
  get now(): T {
    return this.states[this.at]!;
  }
  get canUndo(): boolean {
    return this.at > 0;
  }
  get canRedo(): boolean {
    return this.at < this.states.length - 1;
  }
  with(state: T): History<T> {
    return new History([...this.states.slice(0, this.at + 1), state]);
  }
  undo(): History<T> {
    return new History(this.states, Math.max(0, this.at - 1));
  }
  redo(): History<T> {
    return new History(this.states, Math.min(this.states.length - 1, this.at + 1));
  }
}
