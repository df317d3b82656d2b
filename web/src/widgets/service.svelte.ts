import { call } from '../api/call';
import type { Services } from '../api/services';
import { sentence } from '../base/state.svelte';

// A service asked again whenever its request changes; the last question's answer wins.
export class Asked<K extends keyof Services> {
  reply = $state<Services[K]['reply'] | null>(null);
  trouble = $state('');
  busy = $state(false);
  private stop: AbortController | null = null;

  constructor(private readonly service: K) {}

  async ask(request: Services[K]['request']): Promise<void> {
    this.stop?.abort();
    const stop = new AbortController();
    this.stop = stop;
    this.busy = true;
    try {
      const reply = await call(this.service, request, stop.signal);
      if (this.stop !== stop) return;
      this.reply = reply;
      this.trouble = '';
    } catch (error) {
      if (this.stop !== stop || stop.signal.aborted) return;
      this.reply = null;
      this.trouble = sentence(error);
    } finally {
      if (this.stop === stop) this.busy = false;
    }
  }
}
