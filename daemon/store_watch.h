// How the store fares: what fails of the loop's dealings with it, what the App and the
// service manager are to be told of it, and, while another store stands in for its file,
// whether that is of use again. For the loop's thread, but for status().

#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <string>

#include "daemon/base/log.h"
#include "daemon/message.h"
#include "daemon/store/standing_in.h"
#include "daemon/store/store_error.h"

namespace rimeward {

class StoreWatch {
 public:
  using Steady = std::chrono::steady_clock;
  // What the loop does with the store.
  enum class Act { kCommit, kRead, kCare };

  // A commit that takes longer is slow. A card that cleans up now and then is not, nor is
  // one that waited for another program once.
  static constexpr std::chrono::seconds kSlow{5};
  static constexpr int kSlowOnes = 3;  // of the last ten

  // `stood_in_for`: what was wrong with the file, where the store is only one in memory
  // that stands in for it.
  StoreWatch(const std::string& file, std::optional<StoreError> stood_in_for,
             LogSink log);

  void failed(Act act, const StoreError& error);
  void done(Act act);
  void committed(Steady::duration in);
  // So much was let go that not everything was kept, for the log's words.
  void lost_some() { lost_some_ = true; }

  // Commits fail: they are tried less often.
  bool fails(Act act) const { return fails_.at(static_cast<std::size_t>(act)); }
  bool stands_in() const { return awaited_.has_value(); }
  // The file is damaged, and is to be left alone from here on: why. Nothing: it is of
  // use, or is again.
  std::optional<StoreError> damage() const;

  // While it stands in for the file: whether that is of use again.
  void look_for_file(Steady::time_point at, const std::function<void()>& moving);
  bool is_back() const { return is_back_; }

  // What the App is to be told now; nothing where it knows.
  std::optional<StoreState> news(Instant now);

  // A line for people. Any thread.
  std::string status() const;

 private:
  bool all_done() const;
  void trouble(StoreFault fault, const std::string& words);
  void well(const std::string& words);
  void say(std::string status);

  const LogSink log_;
  const std::optional<StoreError> stood_in_for_;
  std::optional<AwaitedFile> awaited_;
  std::optional<StoreError> damage_;
  std::array<bool, 3> fails_{};
  std::uint32_t slow_ = 0;  // a bit for each of the last commits, the newest lowest
  std::optional<StoreTrouble> trouble_;
  bool is_dated_ = false;  // trouble_->since is known
  bool is_told_ = true;
  bool is_back_ = false;
  bool lost_some_ = false;
  mutable std::mutex mutex_;
  std::string status_;  // guarded by mutex_
};

}  // namespace rimeward
