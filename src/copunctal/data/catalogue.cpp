#include "copunctal/data/catalogue.h"

#include <sstream>
#include <string>

#include <toml++/toml.h>

#include "copunctal/base/embedded.h"

namespace copunctal {

std::span<const EmbeddedBytes> embedded_tables();  // generated

namespace {

std::vector<std::string> strings(const toml::node_view<const toml::node>& node) {
  std::vector<std::string> texts;
  if (const auto* array = node.as_array())
    for (const auto& item : *array) texts.push_back(item.value_or(std::string()));
  return texts;
}

}  // namespace

std::optional<std::string_view> embedded_text(std::string_view path) {
  for (const EmbeddedBytes& file : embedded_tables())
    if (file.path == path) return text_of(file);
  return {};
}

std::vector<std::string> table_names() {
  std::vector<std::string> names;
  for (const EmbeddedBytes& file : embedded_tables())
    if (file.path.ends_with(".csv")) names.emplace_back(file.path.substr(0, file.path.size() - 4));
  return names;
}

Result<Provenance> provenance(std::string_view name) {
  const std::string path = std::string(name) + ".toml";
  const auto text = embedded_text(path);
  if (!text)
    return fail(Error::Kind::not_found, "no table named '" + std::string(name) + "'", "table",
                std::string(name), "see `copunctal sources` for the names");
  try {
    const toml::table root = toml::parse(*text, path);
    Provenance p;
    p.name = name;
    p.title = root["title"].value_or(std::string());
    p.source = root["source"].value_or(std::string());
    p.licence = root["licence"].value_or(std::string());
    p.sha256 = root["sha256"].value_or(std::string());
    p.doi = root["doi"].value<std::string>();
    p.first = root["grid"]["first"].value_or(0.0);
    p.last = root["grid"]["last"].value_or(0.0);
    p.step = root["grid"]["step"].value_or(0.0);
    p.columns = strings(root["columns"]);
    p.units = strings(root["units"]);
    p.smooth = strings(root["smooth"]);
    p.rough = root["rough"].value_or(std::string());
    if (const auto* checks = root["check"].as_array())
      for (const auto& item : *checks) {
        const toml::table& check = *item.as_table();
        p.checks.push_back({check["at"].value_or(0.0), check["column"].value_or(std::string()),
                            check["value"].value_or(0.0), check["tolerance"].value_or(0.0),
                            check["source"].value_or(std::string())});
      }
    if (const auto* entries = root["rough_entry"].as_array())
      for (const auto& item : *entries) {
        const toml::table& entry = *item.as_table();
        p.rough_entries.push_back({entry["at"].value_or(0.0),
                                   entry["column"].value_or(std::string()),
                                   entry["reason"].value_or(std::string())});
      }
    return p;
  } catch (const toml::parse_error& error) {
    std::ostringstream where;
    where << error.source();
    return fail(Error::Kind::bad_input, path + ": " + std::string(error.description()), "table",
                where.str(), "repair the .toml beside the table");
  }
}

}  // namespace copunctal
