// page_types: prints the TypeScript types of what daemon and page say to each other, from the descriptions in messages.hpp.
// Usage: page_types >firmware-host/page/source/messages.ts
#include <cstdio>
#include <set>
#include <string>
#include <type_traits>

#include <boost/core/type_name.hpp>

#include "firmware-host/json/described.hpp"
#include "firmware-host/page/messages.hpp"

namespace {

using namespace hangtrue::json;
using namespace hangtrue::page;

class Types {
 public:
  /// Adds the struct and those within it. `absent`: an empty optional is not null but left out.
  template <Described T>
  std::string add(bool absent = false) {
    std::string name = name_of_type<T>();
    if (!seen_.insert(name).second) return name;
    std::string body;
    std::string others;
    others.swap(text_);  // what the members need comes behind this one
    each_member<T>([&](auto member) {
      using Member = std::remove_cvref_t<decltype(std::declval<T&>().*member.pointer)>;
      body += "  " + std::string(member.name);
      if constexpr (kIsOptional<Member>)
        body += absent ? "?: " + type<typename Member::value_type>() : ": " + type<Member>();
      else
        body += ": " + type<Member>();
      body += ";\n";
    });
    text_ = others + "\nexport interface " + name + " {\n" + body + "}\n" + text_;
    return name;
  }

  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  template <class T>
  static std::string name_of_type() {
    const std::string whole = boost::core::type_name<T>();
    return whole.substr(whole.rfind(':') + 1);
  }

  template <Enumerated T>
  std::string add_names() {
    const std::string type = name_of_type<T>();
    if (!seen_.insert(type).second) return type;
    std::string names;
    each_name<T>([&](T, const std::string& name) { names += (names.empty() ? "\"" : " | \"") + name + '"'; });
    text_ += "\nexport type " + type + " = " + names + ";\n";
    return type;
  }

  template <class T>
  std::string type() {
    if constexpr (Described<T>)
      return add<T>();
    else if constexpr (Enumerated<T>)
      return add_names<T>();
    else if constexpr (kIsOptional<T>)
      return type<typename T::value_type>() + " | null";
    else if constexpr (kIsVector<T>)
      return type<typename T::value_type>() + "[]";
    else if constexpr (std::is_same_v<T, bool>)
      return "boolean";
    else if constexpr (std::is_arithmetic_v<T>)
      return "number";
    else {
      static_assert(std::is_same_v<T, std::string>, "no such member is known here");
      return "string";
    }
  }

  std::set<std::string> seen_;
  std::string text_;
};

}  // namespace

int main() {
  Types types;
  types.add<Topics>(/*absent=*/true);
  types.add<Asked>();
  const std::string text =
      "// Made by page_types of firmware-host/page/messages.hpp, which says what each member is. Not edited "
      "by hand.\n" +
      types.text();
  const bool written = std::fwrite(text.data(), 1, text.size(), stdout) == text.size();
  return written && std::fflush(stdout) == 0 ? 0 : 1;
}
