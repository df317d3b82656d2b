import { cancelJob, listJobs, startJob, watchJob } from '../api/call';
import type { Job, LongServices } from '../api/services';
import { sentence } from '../base/state.svelte';

// A long service: started here, or found running when the page is opened again.
export class Running<K extends keyof LongServices> {
  job = $state<Job | null>(null);
  trouble = $state('');
  private stop: () => void = () => {};

  constructor(
    private readonly service: K,
    private readonly ended: (reply: LongServices[K]['reply']) => void = () => {},
  ) {}

  get busy(): boolean {
    return this.job !== null && (this.job.state === 'waiting' || this.job.state === 'running');
  }
  get reply(): LongServices[K]['reply'] | null {
    return this.job?.state === 'done' ? (this.job.reply as LongServices[K]['reply']) : null;
  }

  async start(request: LongServices[K]['request']): Promise<void> {
    this.trouble = '';
    try {
      this.watch(await startJob(this.service, request));
    } catch (error) {
      this.trouble = sentence(error);
    }
  }

  // The last job of this service, so that a page that was closed finds it again.
  async resume(): Promise<void> {
    try {
      const last = (await listJobs()).find((j) => j.service === this.service);
      if (last) this.watch(last.id);
    } catch {
      // Nothing runs that could be found.
    }
  }

  async cancel(): Promise<void> {
    if (this.job) await cancelJob(this.job.id).catch((error: unknown) => (this.trouble = sentence(error)));
  }

  leave(): void {
    this.stop();
  }

  private watch(id: number): void {
    this.stop();
    this.stop = watchJob(id, (job) => {
      this.job = job;
      if (job.state === 'failed') this.trouble = job.error;
      if (job.state === 'done') this.ended(job.reply as LongServices[K]['reply']);
    });
  }
}
