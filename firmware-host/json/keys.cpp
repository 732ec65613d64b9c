#include "firmware-host/json/keys.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>

namespace hangtrue::json {
namespace {

using Json = nlohmann::ordered_json;
using sheet::Key;
using sheet::Must;
namespace form = sheet::form;

std::string heading_of(const Key& key) {
  for (const sheet::Section& each : sheet::sections())
    if (each.sheet == key.sheet && each.name == key.section) return std::string(each.heading);
  return "";
}

// A number and its unit, or 0 alone. A part of a turn may stand in words.
Json quantity_schema(const Key& key) {
  if (!key.kind || *key.kind == sheet::Kind::turns || (key.forms & form::text) != 0)
    return {{"type", "string"}};
  return {{"anyOf",
           {{{"type", "string"},
             {"pattern", "[0-9\u00BC-\u00BE\u215B-\u215E]\\s*\\S*[^0-9.,\\s]|^\\s*[-+]?0+(\\.0*)?\\s*$"}},
            {{"const", 0}}}}};
}

Json table_schema(sheet::SheetSort sort, std::string_view section, const std::string& prefix);

Json value_schema(const Key& key) {
  Json choices = Json::array();
  const auto can = [&](unsigned one) { return (key.forms & one) != 0; };
  const std::vector<std::string> words = sheet::parts(key.words);
  if (can(form::names)) {
    Json one = {{"type", "string"}};
    if (!words.empty()) one = {{"enum", words}};
    choices.push_back({{"type", "array"}, {"items", one}});
  } else if (!words.empty() && !can(form::text) && !can(form::quantity)) {
    choices.push_back({{"enum", words}});
  } else if (!words.empty() && can(form::quantity)) {
    choices.push_back({{"enum", words}});
  }
  if (can(form::text) || can(form::date) || can(form::share))
    choices.push_back({{"type", "string"}, {"minLength", 1}});
  if (can(form::quantity) && !can(form::text)) choices.push_back(quantity_schema(key));
  if (can(form::pair))
    choices.push_back({{"type", "array"}, {"items", quantity_schema(key)}, {"minItems", 2}, {"maxItems", 2}});
  if (can(form::quantities))
    choices.push_back({{"type", "array"}, {"items", quantity_schema(key)}, {"minItems", 2}});
  if (can(form::number)) choices.push_back({{"type", "number"}});
  if (can(form::whole)) choices.push_back({{"type", "integer"}});
  if (can(form::flag)) choices.push_back({{"type", "boolean"}});
  if (can(form::table)) choices.push_back(table_schema(key.sheet, key.section, std::string(key.name) + '.'));
  if (can(form::tables))
    choices.push_back({{"type", "array"},
                       {"items", table_schema(key.sheet, key.section, std::string(key.name) + '.')},
                       {"minItems", 1}});
  Json schema = {{"description", key.says}};
  if (choices.size() == 1)
    schema.update(choices.front());
  else
    schema["anyOf"] = choices;
  return schema;
}

// A table with the keys below that prefix in a section, and no others.
Json table_schema(sheet::SheetSort sort, std::string_view section, const std::string& prefix) {
  Json schema = {{"type", "object"}, {"properties", Json::object()}, {"additionalProperties", false}};
  Json required = Json::array();
  for (const Key& key : sheet::keys()) {
    if (key.sheet != sort || key.section != section || !key.name.starts_with(prefix)) continue;
    const std::string name(key.name.substr(prefix.size()));
    if (name.find('.') != std::string::npos) continue;  // of a table below
    schema["properties"][name] = value_schema(key);
    if (key.must == Must::always) required.push_back(name);
  }
  if (!required.empty()) schema["required"] = required;
  return schema;
}

Json in_its_form(const sheet::Section& section, Json table) {
  table["description"] = section.says;
  if (section.heading.starts_with("[["))
    return {{"type", "array"}, {"items", table}, {"minItems", section.must ? 1 : 0}};
  if (section.name.ends_with(".NAME")) return {{"type", "object"}, {"additionalProperties", table}};
  return table;
}

}  // namespace

Json key_json(const Key& key) {
  const char* const needed = key.must == Must::always ? "always" : key.must == Must::may ? "no" : "depends";
  return {{"key", key.path()},
          {"sheet", key.sheet == sheet::SheetSort::run ? "run" : "kit"},
          {"heading", heading_of(key)},
          {"says", key.says},
          {"value", sheet::value_words(key)},
          {"limits", key.limits},
          {"needed", needed},
          {"only", key.only},
          {"default", key.otherwise},
          {"not_beside", sheet::parts(key.instead)},
          {"example", key.example}};
}

Json sheet_schema(sheet::SheetSort sort) {
  const bool run = sort == sheet::SheetSort::run;
  Json schema = {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                 {"title", run ? "hangtrue run sheet" : "hangtrue kit sheet"}};
  schema.update(table_schema(sort, "", ""));
  for (const sheet::Section& section : sheet::sections()) {
    if (section.sheet != sort || section.name.empty()) continue;
    Json table = in_its_form(section, table_schema(sort, section.name, ""));
    std::string name(section.name);
    name.resize(std::min(name.find(".NAME"), name.size()));
    Json* above = &schema;
    if (const std::size_t dot = name.find('.');
        dot != std::string::npos) {  // [[instrument.channel]] lies in [[instrument]]
      above = &schema["properties"][name.substr(0, dot)]["items"];
      name = name.substr(dot + 1);
    }
    (*above)["properties"][name] = table;
    if (section.must) (*above)["required"].push_back(name);
  }
  return schema;
}

}  // namespace hangtrue::json
