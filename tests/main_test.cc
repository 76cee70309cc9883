// The one test program: every *_test.cc beside and below this file. A test case that
// hangs ends it and is named, so that nobody waits for the end of the whole suite to
// learn less.

#define DOCTEST_CONFIG_IMPLEMENT_WITH_MAIN
#include <chrono>
#include <condition_variable>
#include <csignal>
#include <cstdlib>
#include <iostream>
#include <mutex>
#include <stop_token>
#include <string>
#include <thread>

#include <doctest/doctest.h>

namespace {

// The longest test case takes twenty seconds, on a busy machine some times that.
constexpr std::chrono::minutes kPatience{5};

class HangWatch final : public doctest::IReporter {
 public:
  explicit HangWatch(const doctest::ContextOptions& /*options*/) {}

  void test_case_start(const doctest::TestCaseData& test) override {
    // Signals are for the threads of the test.
    sigset_t all{};
    sigset_t before{};
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    watch_ = std::jthread([this, name = std::string(test.m_name)](std::stop_token stop) {
      std::unique_lock lock(mutex_);
      ended_.wait_for(lock, stop, kPatience, [] { return false; });
      if (stop.stop_requested()) return;
      std::cout << "the test case \"" << name << "\" has not ended in "
                << kPatience.count() << " minutes" << std::endl;
      std::_Exit(EXIT_FAILURE);
    });
    pthread_sigmask(SIG_SETMASK, &before, nullptr);
  }
  void test_case_end(const doctest::CurrentTestCaseStats& /*stats*/) override {
    watch_ = {};
  }

  void report_query(const doctest::QueryData& /*query*/) override {}
  void test_run_start() override {}
  void test_run_end(const doctest::TestRunStats& /*stats*/) override {}
  void test_case_reenter(const doctest::TestCaseData& /*test*/) override {}
  void test_case_exception(const doctest::TestCaseException& /*error*/) override {}
  void subcase_start(const doctest::SubcaseSignature& /*subcase*/) override {}
  void subcase_end() override {}
  void log_assert(const doctest::AssertData& /*assertion*/) override {}
  void log_message(const doctest::MessageData& /*message*/) override {}
  void test_case_skipped(const doctest::TestCaseData& /*test*/) override {}

 private:
  std::mutex mutex_;
  std::condition_variable_any ended_;
  std::jthread watch_;
};

}  // namespace

REGISTER_LISTENER("hang_watch", 1, HangWatch);
