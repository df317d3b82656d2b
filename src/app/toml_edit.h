// app/toml_edit.h - single values of a person's TOML file changed in place: order, comments and blanks stay as they
// are.
#pragma once

#include <string>
#include <string_view>

#include "base/result.h"

namespace ng::app {

// Puts `value`, as TOML writes it, in place of that of a key; a key that the table does not hold yet gets a line after
// the table's last one. `table` names it with dots, an item of a list of tables with its number: "sensor.gains.1".
// Errors: kInvalidInput (no TOML, or no such table, or a new key for a table that is written in one line).
[[nodiscard]] Result<std::string> with_value(const std::string& text, std::string_view table, const std::string& key,
                                             const std::string& value);

// A new item of the list of tables [[list]] before its item with this number, or behind the last one. `lines`: its
// keys, each with a line break. Errors: kInvalidInput (no such list, or one that is written in one line).
[[nodiscard]] Result<std::string> with_item(const std::string& text, const std::string& list, std::size_t before,
                                            const std::string& lines);

}  // namespace ng::app
