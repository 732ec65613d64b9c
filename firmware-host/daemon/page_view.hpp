// page_view.hpp: what phones see of the daemon, when, and what they say to it.
//
// Topics    all of page/messages.hpp after each command (show_all), `work` when something is waited for, `live` with the samples,
//           at most once in kShowEvery_us. Each is whole; the latest wins.
// Revision  counts what commands and instruments change. A phone's command says which one its person saw.
// Threads   everything on the context's thread; the page's server has its own. Lifetime: the parts must outlive it.
// No page   until serve(), and after close(), everything here does nothing but count.
#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/asked_recheck.hpp"
#include "firmware-host/daemon/guided_check.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/moves_on_job.hpp"
#include "firmware-host/daemon/order_queue.hpp"
#include "firmware-host/daemon/phone_questions.hpp"
#include "firmware-host/daemon/printing.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/stand.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"
#include "firmware-host/daemon/watched_change.hpp"
#include "firmware-host/page/server.hpp"

namespace hangtrue::daemon {

class PageView {
 public:
  /// What is shown. A recheck is made when it is due.
  struct Parts {
    const Sheets& sheets;
    const SurveyLog& log;
    const Instruments& instruments;
    const Stand& stand;
    const SurveyUnderWay& survey;
    const GuidedCheck& check;
    const MovesOnJob& moves;
    const WatchedChange& watched;
    AskedRecheck& recheck;
  };
  using Asked = std::function<void(Order order)>;

  /// `asked`: what a phone says, on the context's thread.
  PageView(boost::asio::io_context& context, const Parts& parts, const Announcer& announcer, Asked asked);

  /// A page for phones, from now on; or why not, in a sentence. Its addresses are events "page" and "pairing".
  [[nodiscard]] std::optional<std::string> serve(page::Options options);
  void close();
  [[nodiscard]] bool is_served() const { return page_ != nullptr; }
  /// Shows a code by which one more phone is paired, whatever codes were guessed before.
  [[nodiscard]] Answer pair_one();

  [[nodiscard]] std::int64_t revision() const { return revision_; }
  void changed() { ++revision_; }

  void show_all();
  void show_work();
  void show_live();
  /// `live`, as soon as the last one is long enough ago.
  void show_live_soon();

  /// `command` waits for something: shown, and told anew at most once in kShowWaiting_us.
  void wait_for(std::string_view command, const std::string& what);
  void wait_no_more();

 private:
  void phone_said(page::Phone phone, const std::string& frame, std::int64_t arrived_us);
  void answer(page::Phone phone, std::int64_t id, bool done, const std::string& words) const;
  void record_asked(std::string survey, std::function<void(std::string)> reply);
  template <class Topic>
  void show(const char* name, const Topic& topic);
  void show_readings_and_run();
  void show_card();
  void show_kit();
  [[nodiscard]] bool is_fitted() const { return of_.survey.no_fit().empty(); }

  boost::asio::io_context& context_;
  Parts of_;
  const Announcer& announcer_;
  Asked asked_;
  boost::asio::steady_timer showing_;
  Printing printing_;                   // outlives the server, which asks it
  std::unique_ptr<page::Server> page_;  // none: no page
  PhoneQuestions questions_;
  std::int64_t revision_ = 1;
  std::atomic<int> records_waiting_ = 0;
  std::string_view doing_;  // "take" ... while something is waited for
  std::string waits_for_;
  std::int64_t waiting_shown_us_ = 0;
  bool live_due_ = false;
  std::int64_t live_shown_us_ = 0;
};

}  // namespace hangtrue::daemon
