// gtest.h: as much of GoogleTest's interface as the core's tests use that run on the board, where GoogleTest itself does not fit.
// The sources are those of the host; only this folder comes before GoogleTest's in the search for headers.
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <memory>
#include <new>
#include <numeric>
#include <optional>
#include <random>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace testing {

/// A failure was seen at this line of that file.
void failed(const char* file, int line);
/// A helper of the tests cannot go on: it would throw on the host.
[[noreturn]] void give_up();

class Case {
 public:
  using Body = void (*)();
  Case(const char* suite, const char* name, Body body);
  const char *suite, *name;
  Body body;
  Case* next;
  static Case* first;
};

/// Takes what a test says of a failure; the line has been told.
struct Sink {
  template <class Anything>
  const Sink& operator<<(const Anything&) const {
    return *this;
  }
};
struct Ends {
  void operator=(const Sink&) const {}
};

struct Trace {
  template <class Anything>
  explicit Trace(const Anything&) {}
};

template <class Value>
struct TestWithParam {
  using ParamType = Value;
  static const Value& GetParam() { return *parameter; }
  static inline const Value* parameter = nullptr;
};
template <class... Value>
auto Values(const Value&... value) {
  return std::array{value...};
}

template <class A, class B>
bool equal(const A& a, const B& b) {
  if constexpr (std::is_convertible_v<A, const char*> && std::is_convertible_v<B, const char*>)
    return a == b || std::strcmp(a, b) == 0;
  else if constexpr (std::is_integral_v<A> && std::is_integral_v<B> && !std::is_same_v<A, bool> && !std::is_same_v<B, bool>)
    return std::cmp_equal(a, b);
  else
    return a == b;
}
/// Four units in the last place, as GoogleTest counts them.
template <class Real>
bool same_real(Real a, Real b) {
  return a == b || std::abs(a - b) <= 4 * std::numeric_limits<Real>::epsilon() * std::max(std::abs(a), std::abs(b));
}

}  // namespace testing

#define HANGTRUE_CHECK(condition) \
  if (condition) {                \
  } else                          \
    (::testing::failed(__FILE__, __LINE__), ::testing::Sink())
#define HANGTRUE_NEED(condition) \
  if (condition) {               \
  } else                         \
    return ::testing::failed(__FILE__, __LINE__), ::testing::Ends() = ::testing::Sink()

#define EXPECT_TRUE(a) HANGTRUE_CHECK(bool(a))
#define EXPECT_FALSE(a) HANGTRUE_CHECK(!bool(a))
#define EXPECT_EQ(a, b) HANGTRUE_CHECK(::testing::equal(a, b))
#define EXPECT_NE(a, b) HANGTRUE_CHECK(!::testing::equal(a, b))
#define EXPECT_LT(a, b) HANGTRUE_CHECK((a) < (b))
#define EXPECT_LE(a, b) HANGTRUE_CHECK((a) <= (b))
#define EXPECT_GT(a, b) HANGTRUE_CHECK((a) > (b))
#define EXPECT_GE(a, b) HANGTRUE_CHECK((a) >= (b))
#define EXPECT_NEAR(a, b, limit) HANGTRUE_CHECK(std::abs((a) - (b)) <= (limit))
#define EXPECT_DOUBLE_EQ(a, b) HANGTRUE_CHECK(::testing::same_real<double>(a, b))
#define ASSERT_TRUE(a) HANGTRUE_NEED(bool(a))
#define ASSERT_FALSE(a) HANGTRUE_NEED(!bool(a))
#define ASSERT_EQ(a, b) HANGTRUE_NEED(::testing::equal(a, b))
#define FAIL() HANGTRUE_NEED(false)
#define SCOPED_TRACE(a) const ::testing::Trace trace_of_this_scope(a)

#define TEST(Suite, Name)                                                              \
  static void Suite##_##Name();                                                        \
  static ::testing::Case Suite##_##Name##_case(#Suite, #Name, Suite##_##Name);         \
  static void Suite##_##Name()

// With each value in turn.
#define TEST_P(Suite, Name)                                                            \
  struct Suite##_##Name : Suite {                                                      \
    void body() const;                                                                 \
    static void run();                                                                 \
  };                                                                                   \
  static ::testing::Case Suite##_##Name##_case(#Suite, #Name, &Suite##_##Name::run);   \
  void all_values_of(const Suite*, void (*)());                                        \
  void Suite##_##Name::run() {                                                         \
    all_values_of(nullptr, [] { Suite##_##Name().body(); });                           \
  }                                                                                    \
  void Suite##_##Name::body() const
#define INSTANTIATE_TEST_SUITE_P(Prefix, Suite, ...)                                   \
  void all_values_of(const Suite*, void (*body)()) {                                   \
    for (const auto& value : __VA_ARGS__) {                                            \
      Suite::parameter = &value;                                                       \
      body();                                                                          \
    }                                                                                  \
  }

// The board's programs are compiled without exceptions.
#define throw ::testing::give_up(), (void)
