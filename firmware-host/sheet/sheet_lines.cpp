#include "firmware-host/sheet/sheet_lines.hpp"

#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::sheet {

SheetLines::SheetLines(std::string_view text) {
  Sink sink;
  const auto root = parse_toml(text, sink);
  if (!root) return;
  const auto add = [this](auto& self, const toml::node& node, const std::string& path) -> void {
    if (!path.empty()) {
      const auto* const typed = node.as_string();
      entries_[path] = {int(node.source().begin.line), typed != nullptr ? typed->get() : std::string()};
    }
    if (const toml::table* const table = node.as_table()) {
      for (const auto& [key, child] : *table)
        self(self, child, (path.empty() ? "" : path + ".") + std::string(key.str()));
    } else if (const toml::array* const list = node.as_array()) {
      int index = 0;
      for (const toml::node& child : *list) self(self, child, path + '[' + std::to_string(++index) + ']');
    }
  };
  add(add, *root, "");
}

int SheetLines::line(std::string key) const {
  while (!key.empty()) {
    if (const auto found = entries_.find(key); found != entries_.end() && found->second.line > 0)
      return found->second.line;
    const std::size_t end = key.find_last_of(".[");
    key.resize(end == std::string::npos ? 0 : end);
  }
  return 0;
}

std::string SheetLines::typed(const std::string& key) const {
  const auto found = entries_.find(key);
  return found == entries_.end() ? std::string() : found->second.typed;
}

SheetLines lines_of_file(const std::string& path) {
  Sink sink;
  const auto text = read_text_file(path, sink);
  return text ? SheetLines(*text) : SheetLines();
}

}  // namespace hangtrue::sheet
