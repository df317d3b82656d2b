// app/toml_keys.h - files that people write by hand: every key is known, every value is checked, and what is wrong is
// told with file, line and key.
//
//   TomlReader reader("site.toml");
//   reader.read(text, {{"latitude_deg", need(within(site.latitude_deg, -90, 90))}, {"name", set(site.name)}});
//
// Units stand in the names of the keys. A key that is nearly one of the known ones is answered with that one.
#pragma once

#include <toml++/toml.h>

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace ng::app {

// Puts the value of a node where it belongs, or says what it must be.
using TomlSetter = std::function<Result<void>(const toml::node&)>;

struct TomlKey {
  TomlSetter set;
  bool needed = false;
  TomlKey(TomlSetter setter, bool is_needed = false)  // NOLINT(google-explicit-constructor): {"key", set(field)}
      : set(std::move(setter)), needed(is_needed) {}
};
using TomlKeys = std::map<std::string, TomlKey, std::less<>>;

[[nodiscard]] TomlSetter set(double& field);
[[nodiscard]] TomlSetter set(int& field);
[[nodiscard]] TomlSetter set(std::uint64_t& field);
[[nodiscard]] TomlSetter set(bool& field);
[[nodiscard]] TomlSetter set(std::string& field);
[[nodiscard]] TomlSetter set(std::vector<double>& field);  // numbers in brackets
// A number from `low` to `high`, both allowed.
[[nodiscard]] TomlSetter within(double& field, double low, double high);
[[nodiscard]] TomlSetter within(std::optional<double>& field, double low, double high);
[[nodiscard]] TomlSetter within(int& field, int low, int high);
// A number above `low`, and at most `high`.
[[nodiscard]] TomlSetter above(double& field, double low, double high);
// The file must hold it.
[[nodiscard]] TomlKey need(TomlSetter setter);

class TomlReader {
 public:
  explicit TomlReader(std::string name) : name_(std::move(name)) {}

  // A whole file. Errors: kInvalidInput "NAME:LINE: KEY: what".
  [[nodiscard]] Result<void> read(const std::string& text, const TomlKeys& keys) const;
  [[nodiscard]] Result<void> table(const toml::table& table, const std::string& path, const TomlKeys& keys) const;
  // [path]: a key that is a table itself.
  [[nodiscard]] TomlSetter inner(const std::string& path, TomlKeys keys) const;
  // [[path]]: a list of tables, in place of what the list held; `keys` gives the keys of one new item.
  template <typename Item>
  [[nodiscard]] TomlSetter list(const std::string& path, std::vector<Item>& items,
                                std::function<TomlKeys(Item&)> keys) const {
    return tables(path, [this, path, &items, keys = std::move(keys)](const toml::table* item) -> Result<void> {
      if (item == nullptr) {
        items.clear();
        return {};
      }
      Item one;
      NG_CHECK(table(*item, path + ".", keys(one)));
      items.push_back(std::move(one));
      return {};
    });
  }
  // The same, item by item as it stands; a null pointer comes first, before any item.
  [[nodiscard]] TomlSetter tables(const std::string& path,
                                  std::function<Result<void>(const toml::table* item)> take) const;

 private:
  [[nodiscard]] Error at(std::uint32_t line, const std::string& key, const std::string& what) const;
  std::string name_;
};

}  // namespace ng::app
