#include "tools/cli/first_time/first_time_ear.h"

#include <chrono>
#include <utility>

#include <fmt/format.h>

#include "daemon/heard_topics.h"
#include "sensors/escape.h"
#include "tools/cli/adoption_words.h"

namespace rimeward {
namespace {

using namespace std::chrono_literals;

constexpr std::size_t kLongestTopicShown = 100;
constexpr std::size_t kMostShown = 100;
constexpr std::size_t kMostTopics = 2000;
constexpr std::string_view kOwnTopics = "rimeward/";

}  // namespace

std::string heard_text(const Candidate& candidate, TemperatureUnit unit) {
  if (!candidate.trouble.empty() || candidate.ways.size() != 1)
    return says_text(candidate, unit);
  const Way& way = candidate.ways.front();
  if (!candidate.channel_unknown) return samples_text(way, unit);
  return fmt::format("{:g}, but not of what", way.samples.front().value);
}

void Ear::begin() {
  connected_ = false;
  trouble_.clear();
}

void Ear::take(std::string_view text) {
  auto line = heard_line_from_text(text);
  if (!line) {
    // rimewardd's log, or another program of that name.
    if (!connected_) trouble_ = escaped(text, 300);
    return;
  }
  switch (line->kind) {
    case HeardLine::Kind::kConnected:
      connected_ = true;
      trouble_.clear();
      return;
    case HeardLine::Kind::kTrouble:
      trouble_ = std::move(line->trouble);
      if (connected_) dialogue_.say(trouble_, 2);
      return;
    case HeardLine::Kind::kMessage:
      return hear(*std::move(line));
  }
}

void Ear::hear(HeardLine line) {
  if (line.topic.starts_with(kOwnTopics)) return;
  auto found = rows_.find(line.topic);
  if (found == rows_.end()) {
    if (rows_.size() == kMostTopics) return;
    const HeardRow first{.topic = line.topic, .first_at = now_, .last_at = now_};
    found = rows_.emplace(line.topic, first).first;
    has_new_ = true;
  }
  if (line.retained && found->second.count == 0) {
    kept_.insert(line.topic);
  } else if (!line.retained) {
    kept_.erase(line.topic);
  }
  ++found->second.count;
  found->second.payload = line.payload.substr(0, HeardTopics::kLongestPayload);
}

bool Ear::go_on() {
  show_new();
  if (!connected_ && !trouble_.empty()) return false;
  interrupted_ = !dialogue_.wait(1s);
  return !interrupted_;
}

void Ear::show_new() {
  if (!std::exchange(has_new_, false)) return;
  const std::vector<HeardRow> heard = rows();
  for (const Candidate& candidate : candidates(garden_, heard)) {
    if (!shown_.insert(candidate.topic).second || shown_.size() > kMostShown) continue;
    dialogue_.say(
        fmt::format("{}{}: {}", escaped(candidate.topic, kLongestTopicShown),
                    kept_.contains(candidate.topic) ? " (kept by the broker)" : "",
                    heard_text(candidate, garden_.units)),
        2);
    if (shown_.size() == kMostShown) dialogue_.say("... and more, not shown here.", 2);
  }
}

std::vector<HeardRow> Ear::rows() const {
  std::vector<HeardRow> rows;
  rows.reserve(rows_.size());
  for (const auto& [topic, row] : rows_)
    rows.push_back(row);
  return rows;
}

}  // namespace rimeward
