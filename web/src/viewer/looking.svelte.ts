// What is looked at, and how: shared by the viewer, the lists beside it and the night band.
import { call } from '../api/call';
import type { Layer } from '../api/call';
import type { NightFramesReply } from '../api/services';
import { kTone, type Tone } from './tone';
import type { View } from './view';

export type NightFrame = NightFramesReply['frames'][number];
export interface Source {
  path: string;
  frame: NightFrame | null; // a single frame, shown on the grid of its master
}

class Looking {
  master = $state(''); // or finished picture: what was chosen on the lists; empty: the deepest master
  frame = $state<NightFrame | null>(null); // over it
  beside = $state(''); // the other half of the screen
  view = $state<View | null>(null); // null: the whole
  tone = $state<Tone>({ ...kTone });
  shade = $state<Exclude<Layer, 'value'> | ''>('');
  strength = $state(0.7);
  marks = $state(false);
  frames = $state<NightFrame[]>([]); // of the folder that the master lies in

  look(path: string): void {
    this.master = path;
    this.frame = null;
  }
  // Frames of the grid that is looked at can be flipped through in place.
  step(by: number): void {
    const list = this.frames.filter((f) => f.path && f.transform);
    if (list.length === 0) return;
    const at = list.findIndex((f) => f.path === this.frame?.path);
    this.frame = list[(at < 0 ? (by > 0 ? 0 : list.length - 1) : at + by + list.length) % list.length] ?? null;
  }
  async loadFrames(masters: string): Promise<string[]> {
    const reply = await call('night-frames', { masters });
    this.frames = reply.frames;
    if (this.frame && !reply.frames.some((f) => f.path === this.frame?.path)) this.frame = null;
    return reply.notes;
  }
}

export const looking = new Looking();
