// Tiles of linear values, drawn through a tone curve on the graphics processor: a change of tone costs one redraw and no
// request.
import type { PictureFacts } from '../api/services';
import { pictureTile } from '../api/call';
import type { Tone } from './tone';
import { levelFor, tilesInSight, type Size, type TilePlace, type View } from './view';

const kVertex = `#version 300 es
uniform vec4 place;  // of the tile on the screen: left, top, right, bottom, -1..1
out vec2 at;
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  at = corner;
  gl_Position = vec4(mix(place.xy, place.zw, corner), 0.0, 1.0);
}`;

const kFragment = `#version 300 es
precision highp float;
uniform highp sampler2D plane0, plane1, plane2;
uniform vec3 sky, noise;
uniform float low, high, factor, saturation;
uniform bool colour, red;
in vec2 at;
out vec4 pixel;
float curve(float x) { return asinh(factor * clamp(x, 0.0, 1.0)) / asinh(factor); }
void main() {
  vec3 value = vec3(texture(plane0, at).r, 0.0, 0.0);
  if (colour) value.yz = vec2(texture(plane1, at).r, texture(plane2, at).r);
  if (isnan(value.x) || isnan(value.y) || isnan(value.z)) {
    pixel = vec4(red ? vec3(0.1, 0.0, 0.0) : vec3(0.10, 0.11, 0.14), 1.0);
    return;
  }
  vec3 x = (value - sky) / noise;
  if (!colour) x = vec3(x.x);
  x = (x - low) / (high - low);
  float light = dot(x, vec3(0.25, 0.5, 0.25));
  x = max(vec3(0.0), mix(vec3(light), x, colour ? saturation : 0.0));
  vec3 shown = vec3(curve(x.r), curve(x.g), curve(x.b));
  pixel = red ? vec4(dot(shown, vec3(0.25, 0.5, 0.25)), 0.0, 0.0, 1.0) : vec4(shown, 1.0);
}`;

interface Held {
  textures: WebGLTexture[];
  used: number;
}

const kMostTiles = 400;
const kAtOnce = 6;

export class Painter {
  private readonly gl: WebGL2RenderingContext;
  private readonly program: WebGLProgram;
  private readonly places = new Map<string, WebGLUniformLocation | null>();
  private readonly tiles = new Map<string, Held>();
  private wanted: TilePlace[] = [];
  private readonly loading = new Set<string>();
  private turn = 0;
  private gone = false;

  constructor(
    private readonly canvas: HTMLCanvasElement,
    private readonly path: string,
    private readonly facts: PictureFacts,
    private readonly news: () => void, // a tile has come: draw again
    private readonly failed: (error: unknown) => void,
  ) {
    const gl = canvas.getContext('webgl2', { alpha: false, antialias: false });
    if (!gl) throw new Error('this browser has no WebGL 2');
    this.gl = gl;
    this.program = this.link();
    gl.useProgram(this.program);
    ['plane0', 'plane1', 'plane2'].forEach((name, unit) => gl.uniform1i(this.at(name), unit));
  }

  draw(view: View, screen: Size, ratio: number, tone: Tone, red: boolean): void {
    const gl = this.gl;
    const width = Math.max(1, Math.round(screen.width * ratio));
    const height = Math.max(1, Math.round(screen.height * ratio));
    if (this.canvas.width !== width || this.canvas.height !== height) {
      this.canvas.width = width;
      this.canvas.height = height;
    }
    gl.viewport(0, 0, width, height);
    gl.clearColor(red ? 0 : 0.02, red ? 0 : 0.027, red ? 0 : 0.047, 1);
    gl.clear(gl.COLOR_BUFFER_BIT);
    const f = this.facts;
    const of = (values: number[], otherwise: number): [number, number, number] => [
      values[0] ?? otherwise,
      values[1] ?? values[0] ?? otherwise,
      values[2] ?? values[0] ?? otherwise,
    ];
    gl.uniform3f(this.at('sky'), ...of(f.sky, 0));
    gl.uniform3f(this.at('noise'), ...of(f.noise, 1));
    const low = Math.sinh(tone.black);
    gl.uniform1f(this.at('low'), low);
    gl.uniform1f(this.at('high'), Math.max(low + 1e-3, Math.sinh(tone.white)));
    gl.uniform1f(this.at('factor'), 10 ** tone.stretch);
    gl.uniform1f(this.at('saturation'), tone.saturation);
    gl.uniform1i(this.at('colour'), f.planes === 3 ? 1 : 0);
    gl.uniform1i(this.at('red'), red ? 1 : 0);

    // The coarsest tile lies below all: nothing is ever blank for long.
    const coarsest = { level: f.levels - 1, column: 0, row: 0 };
    const level = levelFor(view.scale * ratio, f.levels);
    const sight = tilesInSight(view, f, screen, level, f.tile_px);
    ++this.turn;
    for (const tile of [coarsest, ...sight]) this.paint(tile, view, screen);
    const middle = (t: TilePlace): number => {
      const side = f.tile_px * 2 ** t.level;
      return Math.hypot((t.column + 0.5) * side - view.x, (t.row + 0.5) * side - view.y);
    };
    this.wanted = [coarsest, ...sight.sort((a, b) => middle(a) - middle(b))].filter((t) => !this.tiles.has(key(t)));
    this.load();
  }

  destroy(): void {
    this.gone = true;
    this.gl.getExtension('WEBGL_lose_context')?.loseContext();
  }

  private paint(tile: TilePlace, view: View, screen: Size): void {
    const held = this.tiles.get(key(tile));
    if (!held) return;
    held.used = this.turn;
    const gl = this.gl;
    const side = this.facts.tile_px * 2 ** tile.level;
    const x = (image: number): number => (2 * (image - view.x) * view.scale) / screen.width;
    const y = (image: number): number => (-2 * (image - view.y) * view.scale) / screen.height;
    // The last tiles of a row and column end with the image, or half a coarse pixel beyond.
    const right = Math.min((tile.column + 1) * side, Math.ceil(this.facts.width / 2 ** tile.level) * 2 ** tile.level);
    const bottom = Math.min((tile.row + 1) * side, Math.ceil(this.facts.height / 2 ** tile.level) * 2 ** tile.level);
    gl.uniform4f(this.at('place'), x(tile.column * side), y(tile.row * side), x(right), y(bottom));
    held.textures.forEach((texture, unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, texture);
    });
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
  }

  private load(): void {
    while (this.loading.size < kAtOnce) {
      const next = this.wanted.shift();
      if (!next) return;
      const name = key(next);
      if (this.loading.has(name) || this.tiles.has(name)) continue;
      this.loading.add(name);
      const planes = Array.from({ length: this.facts.planes }, (_, p) => pictureTile(this.path, next.level, next.column, next.row, p));
      Promise.all(planes)
        .then((tiles) => {
          if (this.gone) return;
          this.tiles.set(name, { textures: tiles.map((t) => this.texture(t.width, t.height, t.values)), used: this.turn });
          this.forget();
          this.news();
        })
        .catch((error: unknown) => {
          if (!this.gone) this.failed(error);
        })
        .finally(() => {
          this.loading.delete(name);
          if (!this.gone) this.load();
        });
    }
  }

  private texture(width: number, height: number, values: Float32Array): WebGLTexture {
    const gl = this.gl;
    const texture = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, width, height, 0, gl.RED, gl.FLOAT, values);
    for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, gl.NEAREST);
    for (const name of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, name, gl.CLAMP_TO_EDGE);
    return texture;
  }

  private forget(): void {
    if (this.tiles.size <= kMostTiles) return;
    const oldest = [...this.tiles].sort((a, b) => a[1].used - b[1].used).slice(0, this.tiles.size - kMostTiles);
    for (const [name, held] of oldest) {
      for (const texture of held.textures) this.gl.deleteTexture(texture);
      this.tiles.delete(name);
    }
  }

  private at(name: string): WebGLUniformLocation | null {
    if (!this.places.has(name)) this.places.set(name, this.gl.getUniformLocation(this.program, name));
    return this.places.get(name) ?? null;
  }

  private link(): WebGLProgram {
    const gl = this.gl;
    const program = gl.createProgram();
    for (const [kind, source] of [
      [gl.VERTEX_SHADER, kVertex],
      [gl.FRAGMENT_SHADER, kFragment],
    ] as const) {
      const shader = gl.createShader(kind);
      if (!shader) throw new Error('the graphics processor gave no shader');
      gl.shaderSource(shader, source);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program) ?? 'the shader does not link');
    return program;
  }
}

const key = (t: TilePlace): string => `${t.level}/${t.column}/${t.row}`;
