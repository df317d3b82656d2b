#include "server/guard.h"

#include <fmt/format.h>

#include <algorithm>

namespace ng::server {

std::vector<std::string> hosts_of(int port, const std::vector<std::string>& more) {
  std::vector<std::string> hosts;
  for (const char* name : {"127.0.0.1", "localhost", "[::1]"}) hosts.push_back(fmt::format("{}:{}", name, port));
  for (const std::string& name : more) hosts.push_back(fmt::format("{}:{}", name, port));
  return hosts;
}

std::optional<std::string> refusal(const Asker& asker, const std::vector<std::string>& hosts) {
  if (std::find(hosts.begin(), hosts.end(), asker.host) == hosts.end())
    return fmt::format("this page is found at http://{} alone", fmt::join(hosts, " or http://"));
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

void Pace::give_back() {
  const std::lock_guard lock(mutex_);
  left_ = std::min(reserve_, left_ + 1);
}

}  // namespace ng::server
