#include "server/local_network.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>

#include <algorithm>
#include <memory>

namespace ng::server {

std::vector<LocalNetwork> local_networks() {
  ifaddrs* first = nullptr;
  if (getifaddrs(&first) != 0) return {};
  const std::unique_ptr<ifaddrs, decltype(&freeifaddrs)> hold(first, freeifaddrs);
  const auto number = [](const sockaddr* address) {
    return ntohl(reinterpret_cast<const sockaddr_in*>(address)->sin_addr.s_addr);
  };
  std::vector<LocalNetwork> networks;
  for (const ifaddrs* i = first; i != nullptr; i = i->ifa_next) {
    const bool usable = (i->ifa_flags & IFF_UP) != 0 && (i->ifa_flags & IFF_LOOPBACK) == 0;
    if (!usable || i->ifa_addr == nullptr || i->ifa_netmask == nullptr || i->ifa_addr->sa_family != AF_INET) continue;
    networks.push_back({number(i->ifa_addr), number(i->ifa_netmask)});
  }
  return networks;
}

std::optional<std::uint32_t> parse_ipv4(const std::string& text) {
  const std::string mapped = "::ffff:";
  in_addr address{};
  const std::string plain = text.rfind(mapped, 0) == 0 ? text.substr(mapped.size()) : text;
  if (inet_pton(AF_INET, plain.c_str(), &address) != 1) return std::nullopt;
  return ntohl(address.s_addr);
}

std::string format_ipv4(std::uint32_t address) {
  const in_addr in{htonl(address)};
  char text[INET_ADDRSTRLEN] = {};
  return inet_ntop(AF_INET, &in, text, sizeof text) != nullptr ? text : "";
}

bool is_loopback(const std::string& address) {
  const auto ip = parse_ipv4(address);
  return address == "::1" || (ip && (*ip >> 24) == 127);
}

bool is_neighbour(const std::string& address, const std::vector<LocalNetwork>& networks) {
  const auto ip = parse_ipv4(address);
  return ip && std::any_of(networks.begin(), networks.end(), [&](const LocalNetwork& n) {
           return n.mask != 0 && (*ip & n.mask) == (n.address & n.mask);
         });
}

}  // namespace ng::server
