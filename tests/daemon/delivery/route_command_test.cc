#include <fstream>
#include <sstream>
#include <thread>

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/stat.h>

#include "daemon/delivery/routes.h"
#include "tests/support/sample_dispatch.h"
#include "tests/support/scratch_folder.h"
#include "tests/support/variable.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;
using Kind = Delivered::Outcome;

RouteSettings settings_of(std::vector<std::string> run,
                          std::chrono::seconds time_limit = 20s) {
  RouteSettings settings;
  settings.kind = "command";
  settings.run = std::move(run);
  settings.time_limit = time_limit;
  return settings;
}

Outcome deliver(std::vector<std::string> run,
                const Dispatch& dispatch = sample_dispatch(),
                std::chrono::seconds time_limit = 20s) {
  const auto route = make_route_command(settings_of(std::move(run), time_limit), {});
  return route->deliver(dispatch, {});
}

Outcome deliver_to_shell(const std::string& script, std::chrono::seconds limit = 20s) {
  return deliver({"/bin/sh", "-c", script}, sample_dispatch(), limit);
}

std::string text_of_file(const std::filesystem::path& file) {
  std::ostringstream text;
  text << std::ifstream(file).rdbuf();
  return text.str();
}

TEST_CASE("a program finds the notice in its environment") {
  const ScratchFolder folder;
  const std::string file = (folder / "env").string();
  const Outcome outcome = deliver({"/bin/sh", "-c", "env | sort > \"$0\"", file});
  CHECK(outcome.outcome == Kind::kDone);
  CHECK(outcome.trouble.empty());
  const std::string found = text_of_file(file);
  for (const char* line :
       {"RIMEWARD_EVENT=raised\n", "RIMEWARD_MESSAGE=7-1776000000\n", "RIMEWARD_ID=3\n",
        "RIMEWARD_REVISION=2\n", "RIMEWARD_KIND=cover\n", "RIMEWARD_PLACE=north-frame\n",
        "RIMEWARD_PLACE_NAME=North frame\n", "RIMEWARD_SUBJECT=north-frame\n",
        "RIMEWARD_TITLE=Fleece the north frame tonight\n",
        "RIMEWARD_BODY=The low is expected at -1.5 °C.\n",
        "RIMEWARD_DEADLINE=2026-04-12T17:05:00Z\n", "PATH="}) {
    CAPTURE(line);
    CHECK(found.find(line) != std::string::npos);
  }
}

TEST_CASE("a program finds the notice as one line of JSON on its standard input") {
  const ScratchFolder folder;
  const std::string file = (folder / "in").string();
  CHECK(deliver({"/bin/sh", "-c", "cat > \"$0\"", file}).outcome == Kind::kDone);
  CHECK(text_of_file(file) == sample_telling().json + "\n");
}

TEST_CASE("a program that reads nothing of a long notice is done all the same") {
  Dispatch dispatch = sample_dispatch();
  dispatch.tellings.front().json.assign(1'000'000, ' ');
  CHECK(deliver({"true"}, dispatch).outcome == Kind::kDone);
}

TEST_CASE("no shell reads a title or an argument") {
  const ScratchFolder folder;
  const std::string bait = (folder / "bait").string();
  Dispatch dispatch = sample_dispatch();
  std::string& title = dispatch.tellings.front().notice.title;
  title = "$(touch " + bait + ") `touch " + bait + "`; touch " + bait;
  const std::string file = (folder / "out").string();
  const Outcome outcome =
      deliver({"/bin/sh", "-c", "printf '%s|%s' \"$RIMEWARD_TITLE\" \"$1\" > \"$0\"",
               file, "$(touch " + bait + ")"},
              dispatch);
  CHECK(outcome.outcome == Kind::kDone);
  CHECK(text_of_file(file) == title + "|$(touch " + bait + ")");
  CHECK_FALSE(std::filesystem::exists(bait));
}

TEST_CASE("an exit status other than 0 is to be tried again, with what was said") {
  struct Case {
    const char* script;
    const char* trouble;
  };
  const Case cases[] = {
      {"exit 1", "/bin/sh: exit status 1"},
      {"echo first >&2; echo no network >&2; exit 75",
       "/bin/sh: exit status 75 (try again later): no network"},
      {"printf 'a\\033b' >&2; exit 3", "/bin/sh: exit status 3: a\\x1bb"},
      {"exit 126", "/bin/sh: exit status 126 (a program in it is not executable)"},
      {"exit 127", "/bin/sh: exit status 127 (a program in it was not found)"},
      {"kill -9 $$", "/bin/sh: ended by signal 9"},
  };
  for (const auto& [script, trouble] : cases) {
    CAPTURE(script);
    const Outcome outcome = deliver_to_shell(script);
    CHECK(outcome.outcome == Kind::kAgain);
    CHECK(outcome.trouble == trouble);
  }
}

TEST_CASE("a program that does not start is named with the remedy") {
  const ScratchFolder folder;
  const std::string file = (folder / "tell").string();
  const auto trouble = [&] { return deliver({file}).trouble; };
  CHECK(trouble() == file +
                         ": No such file or directory; see that it is there, or change "
                         "[[route]] run");
  std::ofstream(file) << "echo hello\n";
  CHECK(trouble() == file +
                         ": Permission denied; make it executable for the daemon's "
                         "user, or change [[route]] run");
  ::chmod(file.c_str(), 0755);
  CHECK(trouble() == file +
                         ": Exec format error; begin it with a line such as #!/bin/sh, "
                         "or change [[route]] run");
  CHECK(deliver({file}).outcome == Kind::kAgain);
}

TEST_CASE("a program past its time limit is stopped with all that it started") {
  const ScratchFolder folder;
  const std::string file = (folder / "late").string();
  const auto begin = std::chrono::steady_clock::now();
  const Outcome outcome =
      deliver({"/bin/sh", "-c", "echo waiting >&2; (sleep 3; touch \"$0\") & wait", file},
              sample_dispatch(), 1s);
  CHECK(std::chrono::steady_clock::now() - begin < 3s);
  CHECK(outcome.outcome == Kind::kAgain);
  CHECK(outcome.trouble ==
        "/bin/sh: still running after 1 s and stopped: waiting; see why, or raise "
        "[[route]] time_limit");
  while (std::chrono::steady_clock::now() - begin < 3500ms) {
    std::this_thread::sleep_for(50ms);
  }
  CHECK_FALSE(std::filesystem::exists(file));
}

TEST_CASE("a program that does not heed SIGTERM is killed") {
  const auto begin = std::chrono::steady_clock::now();
  const Outcome outcome =
      deliver_to_shell("trap '' TERM; while :; do sleep 0.1; done", 1s);
  CHECK(std::chrono::steady_clock::now() - begin < 5s);
  CHECK(outcome.outcome == Kind::kAgain);
}

TEST_CASE("a program that leaves another one behind does not keep us") {
  const auto begin = std::chrono::steady_clock::now();
  CHECK(deliver_to_shell("sleep 4 & exit 0").outcome == Kind::kDone);
  CHECK(std::chrono::steady_clock::now() - begin < 2s);
}

TEST_CASE("a delivery gives up soon when the daemon stops") {
  const auto route = make_route_command(settings_of({"sleep", "15"}), {});
  std::stop_source stop;
  std::jthread stopping([&] {
    std::this_thread::sleep_for(50ms);
    stop.request_stop();
  });
  const auto begin = std::chrono::steady_clock::now();
  const Outcome outcome = route->deliver(sample_dispatch(), stop.get_token());
  CHECK(std::chrono::steady_clock::now() - begin < 3s);
  CHECK(outcome.outcome == Kind::kAgain);
  CHECK(outcome.trouble == "sleep: stopped with the daemon");
}

TEST_CASE("a program starts with no signal blocked or ignored") {
  sigset_t blocked;
  sigset_t before;
  ::sigemptyset(&blocked);
  ::sigaddset(&blocked, SIGTERM);
  ::pthread_sigmask(SIG_BLOCK, &blocked, &before);
  const auto old_action = ::signal(SIGPIPE, SIG_IGN);
  const Outcome outcome = deliver_to_shell(
      "! grep -E '^SigBlk:.*[1-9a-f]|^SigIgn:.*[1-9a-f][0-9a-f]{0,6}$' /proc/self/status "
      ">&2");
  ::signal(SIGPIPE, old_action);
  ::pthread_sigmask(SIG_SETMASK, &before, nullptr);
  CHECK(outcome.trouble == "");
}

TEST_CASE("a program cannot speak to the service manager in the daemon's name") {
  const Variable manager("NOTIFY_SOCKET", "/run/nowhere");
  const Outcome outcome = deliver_to_shell("test -z \"$NOTIFY_SOCKET\"");
  CHECK(outcome.outcome == Kind::kDone);
}

}  // namespace
}  // namespace rimeward
