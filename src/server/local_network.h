// server/local_network.h - the networks that this machine is part of: who on them is a neighbour.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace ng::server {

// IPv4, in the order of the host; address & mask is the network.
struct LocalNetwork {
  std::uint32_t address = 0, mask = 0;
};

// Of the interfaces that are up, without the machine's own loop.
[[nodiscard]] std::vector<LocalNetwork> local_networks();

// "192.168.1.20"; also as IPv6 writes it ("::ffff:192.168.1.20"). Nothing for anything else.
[[nodiscard]] std::optional<std::uint32_t> parse_ipv4(const std::string& text);
[[nodiscard]] std::string format_ipv4(std::uint32_t address);

// This machine itself.
[[nodiscard]] bool is_loopback(const std::string& address);
// On one of the networks.
[[nodiscard]] bool is_neighbour(const std::string& address, const std::vector<LocalNetwork>& networks);

}  // namespace ng::server
