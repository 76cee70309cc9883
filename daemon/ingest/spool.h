// What has arrived and is not yet in the store, kept so that a killed process loses
// nothing that the broker was told it has. Thread-safe: Paho's thread appends, the loop
// reads back and cuts.
//
// A folder with two segments, older.log and newer.log, of lines as in
// daemon/base/arrival.h. They are only ever appended to; room is made by renaming the
// newer segment over the older, once that one is in the store whole. A kill at any
// instant therefore leaves either the state before or the state after, and what is read
// twice is told by its sequence. The folder belongs on a file system in memory that
// outlives the process: it then costs the card nothing.

#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include "daemon/base/arrival.h"
#include "daemon/ingest/board_clock.h"

namespace rimeward {

// The message names the folder and what to do.
class SpoolError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

enum class Kept {
  kKept,
  kSeenBefore,  // redelivered, and one of the last 10,000 spooled: drop it
  kNotSafe,     // not written (limit or disk): pass it on, but a kill loses it
};

class Spool {
 public:
  static constexpr std::uint64_t kLimitBytes = 64U << 20U;

  // Makes the folder as needed and takes up what it holds; a last line that was torn by a
  // kill is dropped. `committed` is the last sequence that is in the store: counting goes
  // on after it even where the folder was wiped. `limit_bytes` bounds what is not yet in
  // the store. Throws SpoolError, also when another process has the folder.
  static std::unique_ptr<Spool> open(const std::filesystem::path& folder,
                                     std::uint64_t committed,
                                     std::uint64_t limit_bytes = kLimitBytes,
                                     const std::string& boot = boot_id());
  class Impl;
  explicit Spool(std::unique_ptr<Impl> impl);  // by open() alone
  ~Spool();
  Spool(const Spool&) = delete;
  Spool& operator=(const Spool&) = delete;

  // Sets arrival.sequence (not for kSeenBefore) and writes the line. A redelivered
  // message is the same as one before it when topic, payload and packet id are equal: an
  // equal value sent again has another packet id.
  // Throws nothing but std::bad_alloc, and then has not kept it.
  [[nodiscard]] Kept append(Arrival& arrival);

  // At most `most` arrivals after `sequence`, oldest first; without uptime those from
  // before the board was switched off. Throws SpoolError when the file cannot be read.
  std::vector<Arrival> after(std::uint64_t sequence, std::size_t most) const;

  // Everything up to `committed` is in the store. Makes room when there is enough to
  // gain; what was spooled last stays, to recognise a redelivery after a restart.
  // Throws SpoolError; what is spooled is safe then, too.
  void cut(std::uint64_t committed);

  // The newest sequence given out, here or before a restart; 0: none yet.
  std::uint64_t last_sequence() const;

  // Lines that could not be read when opening, and were passed over.
  std::size_t unreadable() const;

 private:
  std::unique_ptr<Impl> impl_;
};

}  // namespace rimeward
