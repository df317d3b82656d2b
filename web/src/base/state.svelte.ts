import { call, NotPaired, Refusal, Unreachable } from '../api/call';
import type { NightBandReply, NightFramesReply, ScheduleReply, WorkspaceReply } from '../api/services';
import { text } from './text';

export type Act = 'dusk' | 'night' | 'dawn';
export type Theme = 'day' | 'night' | 'dark-adapted';

export interface ChosenTarget {
  name: string;
  hours: Record<string, number>; // wished, per filter
}

function remembered<T>(key: string, otherwise: T): T {
  try {
    const stored = localStorage.getItem(key);
    return stored === null ? otherwise : (JSON.parse(stored) as T);
  } catch {
    return otherwise;
  }
}

function remember(key: string, value: unknown): void {
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch {
    // A browser that keeps nothing: the choice lasts as long as the page.
  }
}

export function sentence(error: unknown): string {
  if (error instanceof Refusal) return error.message;
  if (error instanceof Unreachable) return text.unreachable;
  if (error instanceof NotPaired) return text.pair.title;
  return String(error);
}

class PageState {
  act = $state<Act>('dusk');
  theme = $state<Theme>('night');
  brightness = $state(1);
  date = $state('');
  workspace = $state<WorkspaceReply | null>(null);
  band = $state<NightBandReply | null>(null);
  schedule = $state<ScheduleReply | null>(null);
  record = $state<NightFramesReply | null>(null); // the frames of the band's night as they came
  time = $state<number | null>(null); // chosen on the band, ms; null: now
  chosen = $state<ChosenTarget[]>(remembered<ChosenTarget[]>('chosen', []));
  focus = $state(''); // the target that framing and exposure speak of
  trouble = $state('');
  unpaired = $state(false);
  private asked = 0;

  constructor() {
    this.theme = (document.documentElement.dataset.theme as Theme) ?? 'night';
    this.brightness = remembered('brightness', 1);
    this.applyBrightness();
    this.focus = this.chosen[0]?.name ?? '';
    const read = () => {
      const act = location.hash.slice(1);
      if (act === 'dusk' || act === 'night' || act === 'dawn') this.act = act;
    };
    read();
    addEventListener('hashchange', read);
  }

  setTheme(theme: Theme): void {
    this.theme = theme;
    document.documentElement.dataset.theme = theme;
    document.documentElement.style.background = '';
    try {
      localStorage.setItem('theme', theme);
    } catch {
      // as above
    }
  }

  setBrightness(value: number): void {
    this.brightness = value;
    remember('brightness', value);
    this.applyBrightness();
  }
  private applyBrightness(): void {
    document.documentElement.style.setProperty('--brightness', String(this.brightness));
  }

  async loadWorkspace(): Promise<void> {
    try {
      this.workspace = await call('workspace', {});
      this.trouble = '';
      this.unpaired = false;
    } catch (error) {
      this.unpaired = error instanceof NotPaired;
      this.trouble = sentence(error);
    }
  }

  // The band of the night with the curves of what was chosen; a name that the catalogue does not know is dropped.
  async loadBand(): Promise<void> {
    const turn = ++this.asked;
    try {
      const targets = this.chosen.slice(0, 12).map((t) => t.name);
      const band = await call('night-band', { date: this.date, targets });
      if (turn !== this.asked) return;
      const otherNight = band.date !== this.band?.date;
      this.band = band;
      if (otherNight) {
        this.time = null;
        void this.loadRecord();
      }
      this.trouble = '';
    } catch (error) {
      if (turn === this.asked) this.trouble = sentence(error);
    }
  }

  async loadRecord(): Promise<void> {
    const date = this.band?.date;
    try {
      const record = await call('night-frames', { date });
      if (date === this.band?.date) this.record = record;
    } catch (error) {
      this.trouble = sentence(error);
    }
  }

  setDate(date: string): void {
    this.date = date;
    this.schedule = null;
    this.record = null;
    void this.loadBand();
  }

  isChosen(name: string): boolean {
    return this.chosen.some((t) => t.name === name);
  }

  choose(name: string, on: boolean): void {
    if (on && !this.isChosen(name)) {
      const first = this.workspace?.filters[0]?.name;
      this.chosen = [...this.chosen, { name, hours: first ? { [first]: 2 } : {} }];
      this.focus = name;
    } else if (!on) {
      this.chosen = this.chosen.filter((t) => t.name !== name);
    }
    this.keepChosen();
    this.schedule = null;
    void this.loadBand();
  }

  keepChosen(): void {
    remember('chosen', this.chosen);
  }
}

export const page = new PageState();
