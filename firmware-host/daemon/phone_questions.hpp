// phone_questions.hpp: what pages have asked, and what was answered, for those whose connection broke in between.
//
// Again     a page that is back asks again with the same id. What was answered is answered again, by the same words; what is still
//           being obeyed is answered to the page's latest connection; nothing is obeyed twice.
// Bounds    the last kMostRemembered questions of all pages; names and ids are the page's own.
#pragma once

#include <algorithm>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <utility>

#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/page/server.hpp"

namespace hangtrue::daemon {

class PhoneQuestions {
 public:
  /// False: it was asked before. Where it was answered, `answer(done, words)` is called at once.
  template <class OnAnswer>
  [[nodiscard]] bool is_new(const std::string& page, std::int64_t id, page::Phone phone,
                            const OnAnswer& answer) {
    if (Question* const known = find(page, id)) {
      known->phone = std::max(known->phone, phone);  // a later connection has a greater number
      if (known->answer) answer(known->answer->done, known->answer->words);
      return false;
    }
    if (questions_.size() == kMostRemembered) questions_.pop_front();
    questions_.push_back({page, id, phone, std::nullopt});
    return true;
  }
  /// To whom the answer goes; nothing: the question is forgotten.
  std::optional<page::Phone> answered(const std::string& page, std::int64_t id, bool done,
                                      const std::string& words) {
    Question* const known = find(page, id);
    if (known == nullptr) return std::nullopt;
    known->answer = Told{done, words};
    return known->phone;
  }

 private:
  struct Told {
    bool done;
    std::string words;
  };
  struct Question {
    std::string page;
    std::int64_t id;
    page::Phone phone;  // the latest by which it was asked
    std::optional<Told> answer;
  };
  Question* find(const std::string& page, std::int64_t id) {
    const auto found = std::find_if(questions_.begin(), questions_.end(),
                                    [&](const Question& each) { return each.id == id && each.page == page; });
    return found == questions_.end() ? nullptr : &*found;
  }

  std::deque<Question> questions_;
};

}  // namespace hangtrue::daemon
