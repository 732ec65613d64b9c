// What pages ask again is not obeyed twice, and answered to their latest connection.
#include "firmware-host/daemon/phone_questions.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace hangtrue::daemon {
namespace {

class Asking : public ::testing::Test {
 protected:
  bool is_new(const char* page, std::int64_t id, page::Phone phone) {
    return questions_.is_new(page, id, phone, [this](bool done, const std::string& words) {
      told_.push_back((done ? "+" : "-") + words);
    });
  }
  PhoneQuestions questions_;
  std::vector<std::string> told_;
};

TEST_F(Asking, AgainWhileItIsObeyedMovesTheAnswerToTheLatestConnection) {
  EXPECT_TRUE(is_new("a", 1, 5));
  EXPECT_FALSE(is_new("a", 1, 7));
  EXPECT_FALSE(is_new("a", 1, 5)) << "what was held up on the former connection";
  EXPECT_TRUE(told_.empty());
  EXPECT_EQ(questions_.answered("a", 1, true, "taken"), 7u);
}

TEST_F(Asking, AgainAfterItWasAnsweredIsToldTheSame) {
  EXPECT_TRUE(is_new("a", 1, 5));
  EXPECT_TRUE(is_new("b", 1, 6)) << "of another page";
  EXPECT_TRUE(is_new("a", 2, 5));
  EXPECT_EQ(questions_.answered("a", 1, false, "not done"), 5u);
  EXPECT_FALSE(is_new("a", 1, 9));
  EXPECT_EQ(told_, std::vector<std::string>{"-not done"});
}

TEST_F(Asking, IsForgottenAfterSoManyOthers) {
  for (std::int64_t id = 0; id <= std::int64_t(kMostRemembered); ++id) EXPECT_TRUE(is_new("a", id, 1));
  EXPECT_EQ(questions_.answered("a", 0, true, ""), std::nullopt);
  EXPECT_EQ(questions_.answered("a", 1, true, ""), 1u);
}

}  // namespace
}  // namespace hangtrue::daemon
