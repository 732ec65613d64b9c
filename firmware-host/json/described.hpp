// described.hpp: JSON of structs that Boost.Describe describes, such as page/messages.hpp, and back.
//
// Made   members by their names, in their order; an empty optional and a number that is none (NaN, infinite) are null. Text
//        that is no UTF-8 is shown with U+FFFD in the place of what cannot be read. Nothing is thrown but for memory.
// Read   strictly, since it comes from outside: an object that has every member once and no other (an optional one may be left
//        out, which is the same as null), whole numbers whole and in range, valid UTF-8, at most kDeepest levels and as many bytes as the caller says. What does not fit gives a
//        sentence with the member, what was found and what would be right, fit to be shown.
#pragma once

#include <algorithm>
#include <cmath>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include <boost/describe/enumerators.hpp>
#include <boost/describe/members.hpp>
#include <boost/mp11/algorithm.hpp>
#include <nlohmann/json.hpp>

#include "core/quantity/result.hpp"

namespace hangtrue::json {

inline constexpr std::size_t kLongestMessage = 4096;
inline constexpr int kDeepest = 8;  // an object in an object is two levels

using Json = nlohmann::ordered_json;

template <class T>
concept Described = boost::describe::has_describe_members<T>::value;

/// Calls on_member(descriptor) for each: its `name`, and its `pointer` to member.
template <Described T, class OnMember>
constexpr void each_member(OnMember on_member) {
  boost::mp11::mp_for_each<boost::describe::describe_members<T, boost::describe::mod_public>>(on_member);
}

template <class T>
inline constexpr bool kIsOptional = false;
template <class T>
inline constexpr bool kIsOptional<std::optional<T>> = true;
template <class T>
inline constexpr bool kIsVector = false;
template <class T>
inline constexpr bool kIsVector<std::vector<T>> = true;

template <class T>
concept Enumerated = boost::describe::has_describe_enumerators<T>::value;

/// Calls on_name(value, name) for each; "near left" for near_left.
template <Enumerated T, class OnName>
void each_name(OnName on_name) {
  boost::mp11::mp_for_each<boost::describe::describe_enumerators<T>>([&](auto enumerator) {
    std::string name(enumerator.name);
    std::replace(name.begin(), name.end(), '_', ' ');
    on_name(enumerator.value, name);
  });
}

template <Enumerated T>
[[nodiscard]] std::string name_of(T value) {
  std::string found;
  each_name<T>([&](T each, const std::string& name) {
    if (each == value) found = name;
  });
  return found;
}

template <class T>
[[nodiscard]] Json json_of(const T& value) {
  if constexpr (Described<T>) {
    Json json = Json::object();
    each_member<T>([&](auto member) { json[member.name] = json_of(value.*member.pointer); });
    return json;
  } else if constexpr (kIsOptional<T>) {
    return value ? json_of(*value) : Json(nullptr);
  } else if constexpr (kIsVector<T>) {
    Json json = Json::array();
    for (const auto& element : value) json.push_back(json_of(element));
    return json;
  } else if constexpr (std::is_floating_point_v<T>) {
    return std::isfinite(value) ? Json(value) : Json(nullptr);
  } else if constexpr (Enumerated<T>) {
    return name_of(value);
  } else {
    static_assert(std::is_integral_v<T> || std::is_same_v<T, std::string>, "no such member is known here");
    return Json(value);
  }
}

/// As it is sent.
template <Described T>
[[nodiscard]] std::string text_of(const T& message) {
  return json_of(message).dump(-1, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace);
}

/// Reads one JSON text; says() is the first thing that does not fit.
class JsonReader {
 public:
  /// Null when it is no JSON, too long, too deep, or has a member twice.
  [[nodiscard]] Json json_from(std::string_view text, std::size_t most) {
    if (text.size() > most) {
      says_ = "the message has " + std::to_string(text.size()) + " bytes; at most " + std::to_string(most) +
              " are read";
      return nullptr;
    }
    std::vector<std::set<std::string>> members;  // of the objects that are open
    const auto look = [&](int depth, Json::parse_event_t event, Json& parsed) {
      if (depth >= kDeepest &&
          (event == Json::parse_event_t::object_start || event == Json::parse_event_t::array_start))
        refuse("the message has more than " + std::to_string(kDeepest) + " levels");
      if (event == Json::parse_event_t::object_start) members.emplace_back();
      if (event == Json::parse_event_t::object_end) members.pop_back();
      if (event == Json::parse_event_t::key && !members.back().insert(parsed.get<std::string>()).second)
        refuse(shown(parsed) + " is there twice; once would be right");
      return true;
    };
    try {
      Json json = Json::parse(text, look);
      return ok() ? std::move(json) : Json(nullptr);
    } catch (const Json::parse_error& error) {
      refuse("the message is no JSON: it goes wrong at byte " + std::to_string(error.byte));
    } catch (const Json::exception&) {  // what else there is: a number beyond what a double holds
      refuse("the message has a number that is too large; right would be one of at most 1.8e308");
    }
    return nullptr;
  }

  template <class T>
  void read(const Json& json, T& value, const std::string& where) {
    if (!ok()) return;
    if constexpr (Described<T>) {
      read_object(json, value, where);
    } else if constexpr (kIsOptional<T>) {
      if (!json.is_null()) read(json, value.emplace(), where);
    } else if constexpr (kIsVector<T>) {
      if (!json.is_array()) return refuse(where, json, "a list");
      for (const Json& element : json) {
        value.emplace_back();
        read(element, value.back(), where + " " + std::to_string(value.size()));
      }
    } else if constexpr (std::is_same_v<T, bool>) {
      if (!json.is_boolean()) return refuse(where, json, "true or false");
      value = json.template get<bool>();
    } else if constexpr (std::is_floating_point_v<T>) {
      if (!json.is_number()) return refuse(where, json, "a number");
      value = json.template get<T>();
    } else if constexpr (std::is_integral_v<T>) {
      const bool fits = json.is_number_unsigned()  ? std::in_range<T>(json.template get<std::uint64_t>())
                        : json.is_number_integer() ? std::in_range<T>(json.template get<std::int64_t>())
                                                   : false;
      if (!fits)
        return refuse(where, json,
                      "a whole number from " + std::to_string(std::numeric_limits<T>::min()) + " to " +
                          std::to_string(std::numeric_limits<T>::max()));
      value = json.template get<T>();
    } else if constexpr (Enumerated<T>) {
      std::string right;
      bool found = false;
      each_name<T>([&](T each, const std::string& name) {
        right += (right.empty() ? "\"" : ", \"") + name + '"';
        if (json != name) return;
        value = each;
        found = true;
      });
      if (!found) refuse(where, json, "one of " + right);
    } else {
      static_assert(std::is_same_v<T, std::string>, "no such member is known here");
      if (!json.is_string()) return refuse(where, json, "text");
      value = json.template get<std::string>();
    }
  }

  [[nodiscard]] bool ok() const { return says_.empty(); }
  [[nodiscard]] const std::string& says() const { return says_; }

 private:
  template <class T>
  void read_object(const Json& json, T& value, const std::string& where) {
    if (!json.is_object()) return refuse(where, json, "an object with" + names<T>());
    std::size_t known = 0;
    each_member<T>([&](auto member) {
      const auto found = json.find(member.name);
      const std::string name = '"' + std::string(member.name) + '"';
      using Member = std::remove_cvref_t<decltype(value.*member.pointer)>;
      if (kIsOptional<Member> && found == json.end()) return;
      if (found == json.end()) return refuse(name + " is missing in " + where + "; it has" + names<T>());
      ++known;
      read(*found, value.*member.pointer, name);
    });
    if (!ok() || known == json.size()) return;
    std::set<std::string> right;
    each_member<T>([&](auto member) { right.insert(member.name); });
    for (const auto& [name, ignored] : json.items())
      if (!right.contains(name))
        refuse(shown(Json(name)) + " is no member of " + where + "; it has" + names<T>());
  }

  template <class T>
  static std::string names() {
    std::string names;
    each_member<T>(
        [&](auto member) { (names += names.empty() ? " \"" : ", \"") += member.name + std::string("\""); });
    return names;
  }

  static std::string shown(const Json& json) {
    constexpr std::size_t kLongest = 40;
    std::string text = json.dump(-1, ' ', /*ensure_ascii=*/true, Json::error_handler_t::replace);
    if (text.size() > kLongest) text = text.substr(0, kLongest) + "...";
    return text;
  }

  void refuse(std::string sentence) {
    if (ok()) says_ = std::move(sentence);
  }
  void refuse(const std::string& where, const Json& found, const std::string& right) {
    refuse(where + " is " + shown(found) + "; right would be " + right);
  }

  std::string says_;
};

template <Described T>
[[nodiscard]] Result<T, std::string> parse(std::string_view text, std::size_t most = kLongestMessage) {
  JsonReader reader;
  T message;
  const Json json = reader.json_from(text, most);
  reader.read(json, message, "the message");
  if (!reader.ok()) return reader.says();
  return message;
}

}  // namespace hangtrue::json
