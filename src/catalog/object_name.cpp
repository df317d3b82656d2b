#include "catalog/object_name.h"

#include <algorithm>
#include <cctype>
#include <cstdlib>
#include <vector>

namespace ng::catalog {

std::string name_key(std::string_view name) {
  std::string key;
  bool number_begins = true;
  for (std::size_t i = 0; i < name.size(); ++i) {
    const auto c = static_cast<unsigned char>(name[i]);
    const bool digit = std::isdigit(c) != 0;
    if (!digit) number_begins = true;
    if (std::isalnum(c) == 0 && c < 0x80) continue;
    const bool more_digits = i + 1 < name.size() && std::isdigit(static_cast<unsigned char>(name[i + 1])) != 0;
    if (digit && number_begins && c == '0' && more_digits) continue;
    if (digit) number_begins = false;
    key += static_cast<char>(std::toupper(c));
  }
  for (const auto& [from, to] : {std::pair<std::string_view, std::string_view>{"MESSIER", "M"}, {"SHARPLESS", "SH"}})
    if (key.starts_with(from) && key.size() > from.size() && std::isdigit(static_cast<unsigned char>(key[from.size()])))
      key.replace(0, from.size(), to);
  return key;
}

int key_distance(std::string_view a, std::string_view b, int limit) {
  const int n = static_cast<int>(a.size()), m = static_cast<int>(b.size());
  if (std::abs(n - m) > limit) return limit + 1;
  std::vector<int> before(m + 1), last(m + 1), row(m + 1);
  for (int j = 0; j <= m; ++j) last[j] = j;
  for (int i = 1; i <= n; ++i) {
    row[0] = i;
    for (int j = 1; j <= m; ++j) {
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1)});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) row[j] = std::min(row[j], before[j - 2] + 1);
    }
    if (*std::min_element(row.begin(), row.end()) > limit) return limit + 1;
    std::swap(before, last);
    std::swap(last, row);
  }
  return std::min(last[m], limit + 1);
}

}  // namespace ng::catalog
