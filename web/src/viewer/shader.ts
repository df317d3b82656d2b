// Programs of the graphics processor: linear values through a tone curve, display values as they are, or a layer as a
// shade over what lies below.
const kVertex = `#version 300 es
uniform vec4 rect;              // of the tile in the image: left, top, right, bottom
uniform vec3 gridX, gridY;      // placement: image to grid
uniform vec4 view;              // middle of the screen on the grid, screen units of a grid pixel
out vec2 at;
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  at = corner;
  vec3 image = vec3(mix(rect.xy, rect.zw, corner), 1.0);
  vec2 grid = vec2(dot(gridX, image), dot(gridY, image));
  gl_Position = vec4((grid - view.xy) * view.zw, 0.0, 1.0);
}`;

const kFragment = `#version 300 es
precision highp float;
uniform highp sampler2D plane0, plane1, plane2;
uniform vec3 sky, noise;
uniform float low, high, factor, saturation, white, strength;
uniform bool colour, red;
uniform int kind;               // 0 linear, 1 for display already, 2 shade
in vec2 at;
out vec4 pixel;
float curve(float x) { return asinh(factor * clamp(x, 0.0, 1.0)) / asinh(factor); }
void main() {
  vec3 value = vec3(texture(plane0, at).r);
  if (colour) value.yz = vec2(texture(plane1, at).r, texture(plane2, at).r);
  bool undefinedPixel = isnan(value.x) || isnan(value.y) || isnan(value.z);
  if (kind == 2) {
    // Dark blue to yellow: brightness alone tells the order, for any eye.
    float share = clamp((value.x - low) / (high - low), 0.0, 1.0);
    vec3 shade = mix(vec3(0.0, 0.13, 0.34), vec3(1.0, 0.90, 0.36), share);
    pixel = undefinedPixel ? vec4(0.0) : vec4(red ? vec3(share, 0.0, 0.0) : shade, 1.0) * strength;
    return;
  }
  if (undefinedPixel) {
    pixel = vec4(red ? vec3(0.1, 0.0, 0.0) : vec3(0.10, 0.11, 0.14), 1.0);
    return;
  }
  vec3 shown = clamp(value / white, 0.0, 1.0);
  if (kind == 0) {
    vec3 x = (value - sky) / noise;
    if (!colour) x = vec3(x.x);
    x = (x - low) / (high - low);
    float light = dot(x, vec3(0.25, 0.5, 0.25));
    x = max(vec3(0.0), mix(vec3(light), x, colour ? saturation : 0.0));
    shown = vec3(curve(x.r), curve(x.g), curve(x.b));
  }
  pixel = red ? vec4(dot(shown, vec3(0.25, 0.5, 0.25)), 0.0, 0.0, 1.0) : vec4(shown, 1.0);
}`;

export class Shader {
  private readonly program: WebGLProgram;
  private readonly places = new Map<string, WebGLUniformLocation | null>();

  constructor(private readonly gl: WebGL2RenderingContext) {
    this.program = this.link();
    gl.useProgram(this.program);
    ['plane0', 'plane1', 'plane2'].forEach((name, unit) => gl.uniform1i(this.at(name), unit));
  }

  at(name: string): WebGLUniformLocation | null {
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
