// result.hpp: a value, or the fault that stood in the way. Never both, never neither.
//
// Core code reports what went wrong by returning it: no exceptions, no sentinels in a measurement.
// Ignoring a Result is a compile warning (an error in CI).
#pragma once

#include <cstdlib>
#include <utility>
#include <variant>

namespace hangtrue {

/// Nothing to return but success.
struct Done {};

template <class Value, class Fault>
class [[nodiscard]] Result {
 public:
  constexpr Result(Value value) : content_(std::in_place_index<0>, std::move(value)) {}
  constexpr Result(Fault fault) : content_(std::in_place_index<1>, std::move(fault)) {}

  [[nodiscard]] constexpr bool ok() const { return content_.index() == 0; }
  constexpr explicit operator bool() const { return ok(); }

  /// Only when ok(); anything else ends the program (a defect of the caller).
  [[nodiscard]] constexpr const Value& value() const& { return *checked(std::get_if<0>(&content_)); }
  [[nodiscard]] constexpr Value& value() & { return *checked(std::get_if<0>(&content_)); }
  [[nodiscard]] constexpr Value&& value() && { return std::move(*checked(std::get_if<0>(&content_))); }

  /// Only when not ok().
  [[nodiscard]] constexpr const Fault& fault() const { return *checked(std::get_if<1>(&content_)); }

 private:
  template <class Content>
  static constexpr Content* checked(Content* content) {
    if (content == nullptr) std::abort();
    return content;
  }
  std::variant<Value, Fault> content_;
};

}  // namespace hangtrue
