#include "server/guard.h"

#include <fmt/format.h>

#include <algorithm>

namespace ng::server {

std::optional<std::string> refusal(const Asker& asker, int port) {
  const std::string hosts[] = {fmt::format("127.0.0.1:{}", port), fmt::format("localhost:{}", port),
                               fmt::format("[::1]:{}", port)};
  if (std::find(std::begin(hosts), std::end(hosts), asker.host) == std::end(hosts))
    return fmt::format("this page is found at http://{} alone", hosts[0]);
  if (!asker.origin.empty() && asker.origin != "http://" + asker.host) return "pages from elsewhere may not ask here";
  if (!asker.site.empty() && asker.site != "same-origin" && asker.site != "none")
    return "pages from elsewhere may not ask here";
  return std::nullopt;
}

bool Pace::pass() {
  const std::lock_guard lock(mutex_);
  const auto now = Clock::now();
  left_ = std::min(reserve_, left_ + per_second_ * std::chrono::duration<double>(now - last_).count());
  last_ = now;
  if (left_ < 1) return false;
  left_ -= 1;
  return true;
}

}  // namespace ng::server
