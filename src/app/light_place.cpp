#include "app/light_place.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "app/sky_catalogues.h"
#include "app/solve_stars.h"

namespace ng::app {
namespace {

SolveField field_of(const Light& light) {
  const FrameFacts& facts = light.input->facts();
  SolveField f;
  f.field.width = light.stars.width;
  f.field.height = light.stars.height;
  for (const Star& s : light.stars.stars)
    if (s.flux > 0 && !s.has(kStarEdge))
      f.field.stars.push_back({s.x, s.y, std::hypot(s.x_error, s.y_error) / std::sqrt(2.0), s.flux});
  std::stable_sort(f.field.stars.begin(), f.field.stars.end(),
                   [](const auto& a, const auto& b) { return a.flux > b.flux; });
  f.ra_deg = facts.ra_deg;
  f.dec_deg = facts.dec_deg;
  f.start = facts.start;
  f.scale_arcsec_px = stated_scale_arcsec_px(facts);
  f.pixel_size_um = facts.pixel_size_um;
  return f;
}

class Places {
 public:
  Places(const ReduceRequest& request, const Context& ctx) : request_(request), ctx_(ctx) {}

  std::optional<Wcs> of(const Light& light) {
    const auto known = solved_.find(&light);
    if (known != solved_.end()) return known->second;
    std::optional<Wcs>& place = solved_[&light];
    open();
    if (!skies_) return place;
    const auto reply = solve_stars(field_of(light), {}, *skies_, ctx_);
    if (reply.ok() && reply->solved) place = reply->solution;
    return place;
  }

 private:
  void open() {
    if (opened_ || !request_.solve) return;
    opened_ = true;
    auto skies = open_catalogues(request_.catalogues, true, request_.workspace);
    if (skies.ok()) skies_ = std::move(skies).value();
  }

  const ReduceRequest& request_;
  const Context& ctx_;
  bool opened_ = false;
  std::optional<SkyCatalogues> skies_;
  std::map<const Light*, std::optional<Wcs>> solved_;
};

}  // namespace

LightPlaces light_places(const ReduceRequest& request, const Context& ctx) {
  const auto places = std::make_shared<Places>(request, ctx);
  return [places](const Light& light) { return places->of(light); };
}

}  // namespace ng::app
