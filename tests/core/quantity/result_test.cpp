#include "core/quantity/result.hpp"

#include <gtest/gtest.h>

#include <memory>
#include <string>

namespace hangtrue {
namespace {

enum class Fault { too_short, too_long };
using Length = Result<int, Fault>;

TEST(Result, HoldsTheValueOrTheFaultAndKnowsWhich) {
  const Length good = 7;
  EXPECT_TRUE(good.ok());
  EXPECT_TRUE(static_cast<bool>(good));
  EXPECT_EQ(good.value(), 7);

  const Length bad = Fault::too_long;
  EXPECT_FALSE(bad.ok());
  EXPECT_FALSE(static_cast<bool>(bad));
  EXPECT_EQ(bad.fault(), Fault::too_long);
}

TEST(Result, GivesUpAValueThatCanOnlyBeMoved) {
  Result<std::unique_ptr<std::string>, Fault> result = std::make_unique<std::string>("bracket");
  const std::unique_ptr<std::string> taken = std::move(result).value();
  EXPECT_EQ(*taken, "bracket");
}

TEST(Result, LetsAValueBeChangedInPlace) {
  Length length = 1;
  length.value() += 1;
  EXPECT_EQ(length.value(), 2);
}

TEST(ResultDeathTest, EndsTheProgramWhenAskedForWhatItDoesNotHold) {
  EXPECT_DEATH((void)Length(Fault::too_short).value(), "");
  EXPECT_DEATH((void)Length(3).fault(), "");
}

TEST(Result, WorksAtCompileTime) {
  constexpr Length three = 3;
  static_assert(three.ok() && three.value() == 3);
  constexpr Length fault = Fault::too_short;
  static_assert(!fault.ok() && fault.fault() == Fault::too_short);
}

}  // namespace
}  // namespace hangtrue
