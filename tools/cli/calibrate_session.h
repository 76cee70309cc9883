// What the methods of `rimeward calibrate` share: a clock that goes on while they wait,
// what is told meanwhile, and what is written into the store.

#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

#include "tools/cli/verb.h"

namespace rimeward {

// A check that the daemon was told of and whose time is not over.
struct RunningCheck {
  Instant since;
  Instant until;
};

// So long after a check its readings are still not the place's: it is brought back there
// and takes on its temperature.
inline constexpr std::chrono::minutes kSettling{20};

// Nothing when the sensor is not being checked.
std::optional<RunningCheck> running_check(const Store& store, std::string_view sensor,
                                          Instant now);

class Session {
 public:
  // `context` outlives this.
  explicit Session(const Context& context);
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  // The same garden, and its clock as it stands now.
  const Context& context() const { return context_; }
  Instant now() const { return context_.now; }

  // Paragraphs, shown at once where somebody waits, else before the reply. An answer
  // that is a document does not hold them.
  void tell(std::string_view text);

  // Nothing: nobody is there to answer.
  std::optional<bool> ask(std::string_view question);

  bool can_wait() const { return around_.conversation != nullptr; }
  // False: interrupted. REQUIRES: can_wait().
  bool wait(std::chrono::seconds span);

  // What the sensor says is not the place's for so long from now; 0: it is.
  void check_for(const std::string& sensor, std::chrono::seconds span);
  // The same for a check that begins: tells `steps`, and whether the daemon is there.
  void begin_check(const std::string& sensor, std::chrono::seconds span,
                   std::string steps);

  // Writes the correction down, and says so: `text`, or as JSON the action's document
  // with the members of `details` after its own.
  Reply correct(const CorrectionRow& row, std::string text,
                const nlohmann::ordered_json& details);
  Reply undo(const CorrectionRow& row, std::string text);

  // Ends without writing anything: what was told, then `text`; or a document of
  // `details`.
  Reply answer(int status, std::string_view text, const nlohmann::ordered_json& details);

 private:
  Reply written(ActionRow action, std::string text,
                const nlohmann::ordered_json& details);

  Surroundings around_;
  Context context_;  // of around_
  std::string told_;
  std::optional<bool> daemon_running_;  // where it was looked up
};

}  // namespace rimeward
