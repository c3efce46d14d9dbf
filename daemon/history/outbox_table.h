// The outbox' tables in journal.db. Inside a transaction of the caller; throws DatabaseError.
#pragma once

#include <vector>

#include "daemon/history/database.h"
#include "daemon/history/outbox_rows.h"

namespace riserkeep {

void create_outbox(Database&);
void insert_outbox(Database&, const std::vector<OutboxRow>&);
// Rows that ended stay for 90 days, as a record of who was told when.
void mark_outbox(Database&, const std::vector<OutboxMark>&);
void insert_spent(Database&, const std::vector<SpentToken>&);
OutboxFound read_outbox(Database&);

}  // namespace riserkeep
