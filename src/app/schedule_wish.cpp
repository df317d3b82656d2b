#include "app/schedule_wish.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <string_view>

namespace ng::app {
namespace {

constexpr int kMostPanels = 20;  // along a side
constexpr double kMostHours = 1000;

template <typename Number>
std::optional<Number> number(std::string_view word) {
  Number value = 0;
  const auto [end, failure] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (failure != std::errc() || end != word.data() + word.size()) return std::nullopt;
  return value;
}

// What stands before the sign, which is cut off with what follows; the latter is returned.
std::optional<std::string_view> cut(std::string_view& text, char sign) {
  const auto at = text.find(sign);
  if (at == std::string_view::npos) return std::nullopt;
  const std::string_view rest = text.substr(at + 1);
  text = text.substr(0, at);
  return rest;
}

bool read_place(std::string_view text, ScheduleWish& wish) {
  const auto dec = cut(text, ',');
  if (!dec) return false;
  wish.ra_deg = number<double>(text);
  wish.dec_deg = number<double>(*dec);
  return wish.ra_deg && wish.dec_deg && std::fabs(*wish.ra_deg) <= 360 && std::fabs(*wish.dec_deg) <= 90;
}

bool read_panels(std::string_view text, ScheduleWish& wish) {
  if (const auto angle = cut(text, '/')) {
    const auto degrees = number<double>(*angle);
    if (!degrees || !(std::fabs(*degrees) <= 360)) return false;
    wish.position_angle_deg = *degrees;
  }
  const auto up_text = cut(text, 'x');
  if (!up_text) return false;
  const auto across = number<int>(text), up = number<int>(*up_text);
  if (!across || !up || *across < 1 || *up < 1 || *across > kMostPanels || *up > kMostPanels) return false;
  wish.across = *across;
  wish.up = *up;
  return true;
}

bool read_filters(std::string_view text, ScheduleWish& wish) {
  while (!text.empty()) {
    std::string_view part = text;
    text = cut(part, ',').value_or(std::string_view());
    ScheduleWish::Filter filter;
    if (const auto hours_text = cut(part, ':')) {
      const auto hours = number<double>(*hours_text);
      if (!hours || !(*hours > 0 && *hours <= kMostHours)) return false;
      filter.needed_h = *hours;
    }
    if (part.empty()) return false;
    filter.name = part;
    wish.filters.push_back(std::move(filter));
  }
  return !wish.filters.empty();
}

}  // namespace

Result<ScheduleWish> parse_schedule_wish(const std::string& text) {
  ScheduleWish wish;
  std::string_view head = text;
  const auto equals = head.rfind('=');
  bool fine = equals != std::string_view::npos;
  if (fine) {
    fine = read_filters(head.substr(equals + 1), wish);
    head = head.substr(0, equals);
  }
  if (const auto panels = cut(head, '/')) fine = fine && read_panels(*panels, wish);
  if (const auto place = cut(head, '@')) fine = fine && read_place(*place, wish);
  wish.name = head;
  if (fine && !wish.name.empty()) return wish;
  return Error(
      Code::kInvalidInput,
      fmt::format("'{}': write a target, its filters and the hours that each needs, like \"M 33=L:3,R:1\", with "
                  "a place \"Old field@23.46,30.66=L:2\", or with panels and their angle \"M 31/3x1/125=L:2\"",
                  text));
}

}  // namespace ng::app
