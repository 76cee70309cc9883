// The tables of the store and how they came to be: one numbered migration after the
// other, in one transaction together with the number that they lead to.

#pragma once

#include "daemon/store/database.h"

namespace rimeward {

// The version that this program writes and reads.
int schema_version();

// Makes or migrates the tables, as needed. Throws StoreError, and leaves the file as it
// is, when the file is another program's or from a newer version.
void bring_up_to_date(Database& database);

// Throws StoreError when the file cannot be read as it is: another program's, from a
// newer version, or from an older one, which only a writer can bring up to date.
void require_current(Database& database);

}  // namespace rimeward
