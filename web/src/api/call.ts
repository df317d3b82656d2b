import type { Job, LongServices, PictureFacts, PixelProbe, Services } from './services';

// What the program says when the data forbid something: a sentence for people.
export class Refusal extends Error {}
export class Unreachable extends Error {}
export class NotPaired extends Error {}

async function ask(path: string, options?: RequestInit): Promise<Response> {
  let response: Response;
  try {
    response = await fetch(path, options);
  } catch (e) {
    if (e instanceof DOMException && e.name === 'AbortError') throw e;
    throw new Unreachable();
  }
  if (response.ok) return response;
  const json = (await response.json().catch(() => null)) as { error?: string } | null;
  if (response.status === 401 && path !== '/api/pair') throw new NotPaired();
  throw new Refusal(json?.error ?? response.statusText);
}

async function post<T>(path: string, body: unknown, signal?: AbortSignal): Promise<T> {
  const response = await ask(path, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json' },
    body: JSON.stringify(body),
    signal: signal ?? null,
  });
  return (await response.json()) as T;
}

export function call<K extends keyof Services>(
  service: K,
  request: Services[K]['request'],
  signal?: AbortSignal,
): Promise<Services[K]['reply']> {
  return post(`/api/${service}`, request, signal);
}

export async function startJob<K extends keyof LongServices>(service: K, request: LongServices[K]['request']): Promise<number> {
  return (await post<{ id: number }>(`/api/jobs/${service}`, request)).id;
}

export async function isPaired(): Promise<boolean> {
  return ((await (await ask('/api/pair')).json()) as { paired: boolean }).paired;
}

// From now on the browser sends the token that it was given, where no script can read it.
export async function pair(code: string): Promise<void> {
  await post('/api/pair', { code });
}

export async function listJobs(): Promise<Job[]> {
  return ((await (await ask('/api/jobs')).json()) as { jobs: Job[] }).jobs;
}

export async function cancelJob(id: number): Promise<void> {
  await post(`/api/jobs/${id}/cancel`, {});
}

// Calls `tell` with every news of a job until it has ended; returns how to stop watching. A broken stream is taken up
// again by the browser.
export function watchJob(id: number, tell: (job: Job) => void): () => void {
  const events = new EventSource(`/api/jobs/${id}/events`);
  events.addEventListener('job', (event) => {
    const job = JSON.parse((event as MessageEvent<string>).data) as Job;
    tell(job);
    if (['done', 'failed', 'cancelled'].includes(job.state)) events.close();
  });
  return () => events.close();
}

const query = (values: Record<string, string | number>): string =>
  new URLSearchParams(Object.entries(values).map(([k, v]) => [k, String(v)])).toString();

export type Layer = 'value' | 'error' | 'coverage';

export async function pictureFacts(path: string, layer: Layer = 'value'): Promise<PictureFacts> {
  return (await (await ask(`/api/picture?${query({ path, layer })}`)).json()) as PictureFacts;
}

export interface Tile {
  width: number;
  height: number;
  values: Float32Array;
}

export async function pictureTile(path: string, layer: Layer, level: number, column: number, row: number, plane: number): Promise<Tile> {
  const response = await ask(`/api/picture/tile?${query({ path, layer, level, column, row, plane })}`);
  return {
    width: Number(response.headers.get('X-Width')),
    height: Number(response.headers.get('X-Height')),
    values: new Float32Array(await response.arrayBuffer()),
  };
}

export async function probePixel(path: string, x: number, y: number): Promise<PixelProbe> {
  return (await (await ask(`/api/picture/probe?${query({ path, x, y })}`)).json()) as PixelProbe;
}

export const fileAddress = (path: string): string => `/api/file?${query({ path })}`;
export const nameOf = (path: string): string => path.slice(path.lastIndexOf('/') + 1);
export const folderOf = (path: string): string => path.slice(0, Math.max(0, path.lastIndexOf('/')));
