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
        veil_(seed + 8),
        petals_(seed + 9) {}

  [[nodiscard]] Place place(float x, float y) const {
    const float wx = 5.0f * warp_x_.octaves(x / 19, y / 19, 5), wy = 5.0f * warp_y_.octaves(x / 19, y / 19, 5);
    const float ax = x + wx, ay = y + wy;
    const float fx = 0.75f * fine_x_.octaves(ax / 4.1f, ay / 4.1f, 4, 0.6f);
    const float fy = 0.75f * fine_y_.octaves(ax / 4.1f, ay / 4.1f, 4, 0.6f);
    const float rx = x + 0.75f * wx, ry = y + 0.75f * wy;  // the ring is torn less than the gas in it
    return {x, y, ax + fx, ay + fy, std::hypot(rx, 1.05f * ry), std::atan2(y, x)};
  }

  [[nodiscard]] Gas gas(const Place& p) const {
    const float clump = clumps_.octaves(p.qx / 10, p.qy / 10, 7, 0.6f);
    const float thread = threads_.ridges(p.qx / 7.5f, p.qy / 7.5f, 5, 0.6f);
    const float soft = veil_.octaves(p.x / 17, p.y / 17, 3);
    const float petal = petals_.octaves(p.qx / 12.5f + 5, p.qy / 12.5f, 3, 0.5f);

    const float r = p.r + 2.6f * soft;
    const float cavity = 0.05f + 0.95f * step_between(4.0f, 12.5f, r);
    const float ring = 0.78f * bell(r, 14.5f, 6.2f) + 0.36f * bell(r, 18, 11.5f);
    const float sides = 1 + 0.24f * std::cos(p.angle - 2.3f) + 0.18f * std::cos(2 * p.angle + 0.7f);
    const float texture = std::exp(1.0f * clump + 0.9f * petal) * (0.52f + 1.05f * thread * thread * thread * thread);
    const float outer = 0.10f * bell(r, 6, 28) * std::exp(1.3f * petal + 0.5f * clump) * (0.4f + thread * thread);
    const float veil = 0.012f * std::exp(1.6f * veil_.octaves(p.x / 34 + 9, p.y / 34, 6, 0.55f));

    Gas g;
    g.h_alpha = cavity * (ring * sides * texture + outer) + veil;
    const float smooth_texture = std::exp(0.7f * clump + 0.5f * petal) * (0.65f + 0.6f * thread * thread * thread);
    g.oxygen = 0.40f * (0.22f + 0.78f * step_between(2.0f, 10.0f, r)) * bell(r, 9.5f, 7.0f) * smooth_texture;
    g.dust = dust(p, clump);
    return g;
  }

 private:
  // Lanes: thin sheets seen edge on, winding through the ring. Globules and trunks: clumps of dust in the north-western
  // quarter, drawn out away from the cluster, in groups.
  [[nodiscard]] float dust(const Place& p, float clump) const {
    float depth = 0;
    const float where = bell(p.r, 16, 8.5f) * (0.62f + 0.38f * std::cos(p.angle - 1.6f));
    if (where > 0.01f) {
      const float lane = lanes_.ridges(p.qx / 13 + 3.7f, p.qy / 13 - 8.2f, 4, 0.5f);
      depth += 1.9f * step_between(0.72f, 0.98f, lane + 0.12f * clump) * where;
    }
    const float ca = std::cos(p.angle), sa = std::sin(p.angle);
    const float along = std::hypot(p.x, p.y) + 0.8f * ((p.qx - p.x) * ca + (p.qy - p.y) * sa);
    const float here = step_between(-0.1f, 0.6f, std::cos(p.angle - 2.35f)) * step_between(8.5f, 12.5f, along) *
                       (1 - step_between(18, 25, along));
    if (here > 0) {
      const float across = 13 * (p.angle + 0.022f * ((p.qy - p.y) * ca - (p.qx - p.x) * sa));
      const float group = trunks_.octaves(across / 9 + 20, along / 8, 2);
      const float shape = trunks_.octaves(across / 2.3f + 40, along / 4.4f, 5, 0.58f);
      depth += 2.9f * step_between(0.24f, 0.56f, shape + 0.55f * group - 0.05f) * here;
    }
    return depth;
  }

  LatticeNoise warp_x_, warp_y_, fine_x_, fine_y_, clumps_, threads_, lanes_, trunks_, veil_, petals_;
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
  maps.dust = Image<float>(width, height);

  const Design design(static_cast<std::uint32_t>(s.seed * 2654435761u) ^ 0x51ed270bu);
  const double to_design = 31 / s.target.nebula_radius_arcmin / 60;
  const auto x_of = [&](int i) { return static_cast<float>((maps.xi0_arcsec + i * step) * to_design); };
  const auto y_of = [&](int j) { return static_cast<float>((maps.eta0_arcsec + j * step) * to_design); };

  ctx.begin("shaping the nebula", height);
  NG_CHECK(parallel_for(ctx, height, [&](int j) {
    float* h_alpha = maps.h_alpha.plane().row(j);
    float* oxygen = maps.oxygen.plane().row(j);
    float* depth = maps.dust.plane().row(j);
    for (int i = 0; i < width; ++i) {
      const Gas g = design.gas(design.place(x_of(i), y_of(j)));
      h_alpha[i] = g.h_alpha;
      oxygen[i] = g.oxygen;
      depth[i] = g.dust;
    }
    ctx.advance();
  }));

  // Dust dims what lies behind and within it; where it faces the cluster its skin glows.
  constexpr double kBrightestHundredth = 1.78;  // of the design, measured over the whole ring
  const auto peak = static_cast<float>(s.target.nebula_rayleighs / kBrightestHundredth);
  const float per_design = static_cast<float>(1 / (2 * step * to_design));
  NG_CHECK(parallel_for(ctx, height, [&](int j) {
    float* h_alpha = maps.h_alpha.plane().row(j);
    float* oxygen = maps.oxygen.plane().row(j);
    const float *depth = maps.dust.plane().row(j), *above = maps.dust.plane().row(std::max(0, j - 1)),
                *below = maps.dust.plane().row(std::min(height - 1, j + 1));
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
