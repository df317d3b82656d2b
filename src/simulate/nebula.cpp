#include "simulate/nebula.h"

#include <algorithm>
#include <cmath>

#include "base/parallel.h"
#include "simulate/lattice_noise.h"

namespace ng::simulate {
namespace {

float step_between(float low, float high, float x) {
  const float t = std::clamp((x - low) / (high - low), 0.0f, 1.0f);
  return t * t * (3 - 2 * t);
}
float bell(float x, float centre, float width) {
  const float t = (x - centre) / width;
  return std::exp(-t * t);
}

// Lengths in this file are "design arcminutes": arcminutes of a nebula whose bright part ends at 31'.
struct Place {
  float x, y;    // towards east and north
  float qx, qy;  // the same, carried along by the turbulence
  float r, angle;
};

struct Gas {
  float h_alpha = 0, oxygen = 0;  // before dust, relative to the bright ridge
  float dust = 0;                 // optical depth at H-alpha
};

class Design {
 public:
  explicit Design(std::uint32_t seed)
      : warp_x_(seed),
        warp_y_(seed + 1),
        fine_x_(seed + 2),
        fine_y_(seed + 3),
        clumps_(seed + 4),
        threads_(seed + 5),
        lanes_(seed + 6),
        trunks_(seed + 7),
        veil_(seed + 8) {}

  [[nodiscard]] Place place(float x, float y) const {
    const float wx = 6.0f * warp_x_.octaves(x / 21, y / 21, 4), wy = 6.0f * warp_y_.octaves(x / 21, y / 21, 4);
    const float ax = x + wx, ay = y + wy;
    const float fx = 1.5f * fine_x_.octaves(ax / 5.2f, ay / 5.2f, 3, 0.55f);
    const float fy = 1.5f * fine_y_.octaves(ax / 5.2f, ay / 5.2f, 3, 0.55f);
    const float rx = x + 0.55f * wx, ry = y + 0.55f * wy;  // the ring is torn less than the gas in it
    return {x, y, ax + fx, ay + fy, std::hypot(rx, 1.06f * ry), std::atan2(y, x)};
  }

  [[nodiscard]] Gas gas(const Place& p) const {
    const float clump = clumps_.octaves(p.qx / 9.5f, p.qy / 9.5f, 6, 0.56f);
    const float thread = threads_.ridges(p.qx / 6.5f, p.qy / 6.5f, 5, 0.58f);
    const float soft = clumps_.octaves(p.qx / 15, p.qy / 15, 3);

    const float cavity = step_between(3.2f, 10.5f, p.r + 1.8f * soft);
    const float ring = 0.80f * bell(p.r, 13.5f, 6.4f) + 0.34f * bell(p.r, 17, 12);
    const float sides = 1 + 0.26f * std::cos(p.angle - 2.3f) + 0.16f * std::cos(2 * p.angle + 0.7f);
    const float texture = std::exp(1.05f * clump) * (0.40f + 1.15f * thread * thread * thread);
    const float outer = 0.075f * std::exp(0.9f * soft) * bell(p.r, 0, 36) * (0.5f + thread);
    const float veil = 0.022f * std::exp(1.4f * veil_.octaves(p.x / 30, p.y / 30, 5));

    Gas g;
    g.h_alpha = cavity * ring * sides * texture + outer * cavity + veil + 0.05f * bell(p.r, 0, 12);
    const float smooth_texture = std::exp(0.75f * clump) * (0.55f + 0.7f * thread * thread);
    g.oxygen = 0.46f * step_between(1.0f, 8.5f, p.r + 1.5f * soft) * bell(p.r, 9.5f, 6.8f) * smooth_texture +
               0.07f * bell(p.r, 0, 13) * std::exp(0.7f * soft);
    g.dust = dust(p, clump);
    return g;
  }

 private:
  // Lanes: thin sheets seen edge on, winding through the ring. Trunks: fingers of dust that point at the cluster, and
  // their broken-off ends, in the north-western quarter.
  [[nodiscard]] float dust(const Place& p, float clump) const {
    const float lane = lanes_.ridges(p.qx / 11 + 3.7f, p.qy / 11 - 8.2f, 4, 0.5f);
    const float where = bell(p.r, 15.5f, 7.5f) * (0.55f + 0.45f * std::cos(p.angle - 2.0f));
    const float sheets = 2.3f * step_between(0.70f, 0.93f, lane + 0.10f * clump) * where;

    const float quarter = step_between(0.0f, 0.45f, std::cos(p.angle - 2.45f));
    const float along =
        std::hypot(p.x, p.y) + 0.35f * (p.qx - p.x) * std::cos(p.angle) + 0.35f * (p.qy - p.y) * std::sin(p.angle);
    const float turn = p.angle + 0.012f * (p.qy - p.y);
    const float finger = trunks_.octaves(turn * 9.5f + 40, along / 6.2f, 4, 0.55f);
    const float reach = step_between(7.5f, 11, along) * (1 - step_between(17, 23, along));
    const float fingers = 3.4f * step_between(0.16f, 0.42f, finger) * quarter * reach;
    return sheets + fingers;
  }

  LatticeNoise warp_x_, warp_y_, fine_x_, fine_y_, clumps_, threads_, lanes_, trunks_, veil_;
};

}  // namespace

Result<NebulaMaps> make_nebula(const Scenario& s, const SkyBox& box, const Context& ctx) {
  NebulaMaps maps;
  const double step = maps.step_arcsec;
  maps.xi0_arcsec = std::floor(box.xi0 / step - 2) * step;
  maps.eta0_arcsec = std::floor(box.eta0 / step - 2) * step;
  const int width = static_cast<int>(std::ceil((box.xi1 - maps.xi0_arcsec) / step)) + 3;
  const int height = static_cast<int>(std::ceil((box.eta1 - maps.eta0_arcsec) / step)) + 3;
  maps.h_alpha = Image<float>(width, height);
  maps.oxygen = Image<float>(width, height);
  Image<float> dust(width, height);

  const Design design(static_cast<std::uint32_t>(s.seed * 2654435761u) ^ 0x51ed270bu);
  const double to_design = 31 / s.target.nebula_radius_arcmin / 60;
  const auto x_of = [&](int i) { return static_cast<float>((maps.xi0_arcsec + i * step) * to_design); };
  const auto y_of = [&](int j) { return static_cast<float>((maps.eta0_arcsec + j * step) * to_design); };

  ctx.begin("shaping the nebula", height);
  NG_CHECK(parallel_for(ctx, height, [&](int j) {
    float* h_alpha = maps.h_alpha.plane().row(j);
    float* oxygen = maps.oxygen.plane().row(j);
    float* depth = dust.plane().row(j);
    for (int i = 0; i < width; ++i) {
      const Gas g = design.gas(design.place(x_of(i), y_of(j)));
      h_alpha[i] = g.h_alpha;
      oxygen[i] = g.oxygen;
      depth[i] = g.dust;
    }
    ctx.advance();
  }));

  // Dust dims what lies behind and within it; where it faces the cluster its skin glows.
  const auto peak = static_cast<float>(s.target.nebula_rayleighs);
  const float per_design = static_cast<float>(1 / (2 * step * to_design));
  NG_CHECK(parallel_for(ctx, height, [&](int j) {
    float* h_alpha = maps.h_alpha.plane().row(j);
    float* oxygen = maps.oxygen.plane().row(j);
    const float *depth = dust.plane().row(j), *above = dust.plane().row(std::max(0, j - 1)),
                *below = dust.plane().row(std::min(height - 1, j + 1));
    for (int i = 0; i < width; ++i) {
      const float x = x_of(i), y = y_of(j), r = std::max(1.0f, std::hypot(x, y));
      const float dx = (depth[std::min(width - 1, i + 1)] - depth[std::max(0, i - 1)]) * per_design;
      const float dy = (below[i] - above[i]) * per_design;
      const float facing = std::max(0.0f, (dx * x + dy * y) / r);
      const float light = step_between(3, 9, r) * bell(r, 8, 14);
      const float skin = 0.34f * light * facing / (1.4f + facing) * std::exp(-0.7f * depth[i]);
      h_alpha[i] = peak * (h_alpha[i] * (0.13f + 0.87f * std::exp(-depth[i])) + skin);
      oxygen[i] = peak * oxygen[i] * (0.10f + 0.90f * std::exp(-1.4f * depth[i]));
    }
  }));
  return maps;
}

}  // namespace ng::simulate
