#include "copunctal/store/migrations.h"

#include <array>
#include <string>

#include "copunctal/base/hash.h"
#include "copunctal/store/audit_log.h"
#include "copunctal/store/database.h"

namespace copunctal {
namespace {

constexpr std::string_view practicals_and_sittings = R"sql(
CREATE TABLE practicals (
  practical_id TEXT PRIMARY KEY CHECK (length(practical_id) = 32 AND practical_id NOT GLOB '*[^0-9a-f]*'),
  name         TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 64),
  created_utc  TEXT NOT NULL,
  display      TEXT NOT NULL,
  set_hash     TEXT NOT NULL CHECK (length(set_hash) = 64),
  plates       INTEGER NOT NULL CHECK (plates > 0),
  exposure_ms  INTEGER NOT NULL CHECK (exposure_ms BETWEEN 1000 AND 20000),
  grace_ms     INTEGER NOT NULL CHECK (grace_ms BETWEEN 0 AND 60000)
) STRICT;

CREATE TABLE sittings (
  sitting_id    TEXT PRIMARY KEY CHECK (length(sitting_id) = 32 AND sitting_id NOT GLOB '*[^0-9a-f]*'),
  practical_id  TEXT NOT NULL REFERENCES practicals (practical_id) ON DELETE RESTRICT,
  tell          TEXT NOT NULL CHECK (tell IN ('tell', 'dont_tell', 'later')),
  sex_at_birth  TEXT CHECK (sex_at_birth IN ('female', 'male')),
  order_seed    TEXT NOT NULL CHECK (length(order_seed) = 16),
  state         TEXT NOT NULL CHECK (state IN ('running', 'ended')),
  consented_utc TEXT NOT NULL,
  created_utc   TEXT NOT NULL,
  ended_utc     TEXT,
  CHECK ((state = 'ended') = (ended_utc IS NOT NULL))
) STRICT;
CREATE INDEX sittings_of_practical ON sittings (practical_id);

-- What a sitting shows, in the order of showing; plate is an index into the practical's set.
CREATE TABLE items (
  sitting_id TEXT NOT NULL REFERENCES sittings (sitting_id) ON DELETE CASCADE,
  item       INTEGER NOT NULL CHECK (item >= 0),
  round      TEXT NOT NULL CHECK (round IN ('warm-up', 'first', 'which-kind', 'blue-yellow')),
  plate      INTEGER NOT NULL CHECK (plate >= 0),
  plate_id   TEXT NOT NULL UNIQUE CHECK (length(plate_id) = 32 AND plate_id NOT GLOB '*[^0-9a-f]*'),
  PRIMARY KEY (sitting_id, item),
  UNIQUE (sitting_id, plate)
) STRICT;

-- The answer that counts. Never updated. Symbols are a JSON array of texts (its functions are not
-- trusted in a schema, so its form alone is checked).
CREATE TABLE answers (
  answer_id   TEXT PRIMARY KEY CHECK (length(answer_id) = 32 AND answer_id NOT GLOB '*[^0-9a-f]*'),
  sitting_id  TEXT NOT NULL,
  item        INTEGER NOT NULL,
  symbols     TEXT NOT NULL CHECK (symbols LIKE '[%]'),
  end         TEXT NOT NULL CHECK (end IN ('answered', 'late', 'expired', 'interrupted')),
  onset_ms    REAL NOT NULL CHECK (abs(onset_ms) <= 1e12),
  response_ms REAL CHECK (abs(response_ms) <= 1e12),
  shown_ms    REAL NOT NULL CHECK (shown_ms BETWEEN 0 AND 1e12),
  frames      INTEGER NOT NULL CHECK (frames BETWEEN 0 AND 1000000000),
  hidden      INTEGER NOT NULL CHECK (hidden IN (0, 1)),
  page_load   TEXT NOT NULL CHECK (length(page_load) = 32),
  body_sha256 TEXT NOT NULL CHECK (length(body_sha256) = 64),
  received_utc       TEXT NOT NULL,
  received_steady_ns INTEGER NOT NULL,
  UNIQUE (sitting_id, item),
  FOREIGN KEY (sitting_id, item) REFERENCES items (sitting_id, item) ON DELETE CASCADE,
  CHECK ((end IN ('answered', 'late')) = (response_ms IS NOT NULL)),
  CHECK (end IN ('answered', 'late') OR symbols = '[]')
) STRICT;
CREATE TRIGGER answers_are_never_changed BEFORE UPDATE ON answers
BEGIN SELECT raise(ABORT, 'an answer is never changed'); END;

-- The audit: answers that came but do not count. A retry of one is noted once.
CREATE TABLE refused_answers (
  answer_id   TEXT NOT NULL CHECK (length(answer_id) = 32),
  sitting_id  TEXT NOT NULL,
  item        INTEGER NOT NULL,
  reason      TEXT NOT NULL CHECK (reason IN ('conflict', 'late')),
  symbols     TEXT NOT NULL CHECK (symbols LIKE '[%]'),
  end         TEXT NOT NULL,
  onset_ms    REAL NOT NULL,
  response_ms REAL,
  shown_ms    REAL NOT NULL,
  frames      INTEGER NOT NULL,
  hidden      INTEGER NOT NULL,
  page_load   TEXT NOT NULL,
  body_sha256 TEXT NOT NULL,
  received_utc       TEXT NOT NULL,
  received_steady_ns INTEGER NOT NULL,
  PRIMARY KEY (sitting_id, answer_id, reason, body_sha256),
  FOREIGN KEY (sitting_id, item) REFERENCES items (sitting_id, item) ON DELETE CASCADE
) STRICT;
)sql";

constexpr std::string_view display_records = R"sql(
-- Checks of a screen without instruments, in the order they were made.
CREATE TABLE display_records (
  number      INTEGER PRIMARY KEY,
  record_id   TEXT NOT NULL UNIQUE CHECK (length(record_id) = 32 AND record_id NOT GLOB '*[^0-9a-f]*'),
  made_utc    TEXT NOT NULL,
  expires_utc TEXT NOT NULL CHECK (expires_utc > made_utc),
  ended       TEXT CHECK (ended IN ('zoom', 'moved', 'mode', 'expired', 'replaced')),
  ended_utc   TEXT,
  display            TEXT NOT NULL CHECK (length(display) BETWEEN 1 AND 64),
  card_px            REAL CHECK (card_px BETWEEN 1 AND 100000),
  device_pixel_ratio REAL NOT NULL CHECK (device_pixel_ratio BETWEEN 0.01 AND 100),
  screen_width_px    INTEGER NOT NULL CHECK (screen_width_px BETWEEN 1 AND 1000000),
  screen_height_px   INTEGER NOT NULL CHECK (screen_height_px BETWEEN 1 AND 1000000),
  screen_left_px     INTEGER NOT NULL CHECK (abs(screen_left_px) <= 10000000),
  screen_top_px      INTEGER NOT NULL CHECK (abs(screen_top_px) <= 10000000),
  colour_depth       INTEGER NOT NULL CHECK (colour_depth BETWEEN 1 AND 256),
  gamut              TEXT NOT NULL CHECK (gamut IN ('srgb', 'p3', 'rec2020')),
  black_step         INTEGER CHECK (black_step BETWEEN 0 AND 255),
  white_step         INTEGER CHECK (white_step BETWEEN 0 AND 255),
  neutral            TEXT CHECK (neutral IN ('neutral', 'tinted')),
  night_mode_off     INTEGER NOT NULL CHECK (night_mode_off IN (0, 1)),
  adapted            INTEGER NOT NULL CHECK (adapted IN (0, 1)),
  room_light         TEXT CHECK (room_light IN ('dim', 'office', 'bright')),
  statement          TEXT NOT NULL CHECK (length(statement) <= 200),
  refresh_hz         REAL CHECK (refresh_hz BETWEEN 0.1 AND 100000),
  frame_spread_ms    REAL CHECK (frame_spread_ms BETWEEN 0 AND 1000000),
  dropped_frames     INTEGER CHECK (dropped_frames BETWEEN 0 AND 1000000000),
  CHECK ((ended IS NULL) = (ended_utc IS NULL))
) STRICT;
-- One at most holds.
CREATE UNIQUE INDEX display_record_that_holds ON display_records ((ended IS NULL)) WHERE ended IS NULL;
CREATE TRIGGER ended_display_records_are_never_changed BEFORE UPDATE ON display_records WHEN OLD.ended IS NOT NULL
BEGIN SELECT raise(ABORT, 'a display record that has ended is never changed'); END;

CREATE TABLE tone_matches (
  record_number INTEGER NOT NULL REFERENCES display_records (number) ON DELETE CASCADE,
  place         INTEGER NOT NULL CHECK (place >= 0),
  channel       TEXT NOT NULL CHECK (channel IN ('r', 'g', 'b')),
  share         REAL NOT NULL CHECK (share IN (0.25, 0.5, 0.75)),
  code          INTEGER NOT NULL CHECK (code BETWEEN 0 AND 255),
  PRIMARY KEY (record_number, place)
) STRICT;
)sql";

constexpr std::string_view classes = R"sql(
-- A practical is prepared, opened with its prediction card, and closed. Older ones are open.
ALTER TABLE practicals ADD COLUMN state TEXT NOT NULL DEFAULT 'open'
  CHECK (state IN ('preparing', 'open', 'closed'));
ALTER TABLE practicals ADD COLUMN loans TEXT NOT NULL DEFAULT '[]' CHECK (loans LIKE '[%]');
ALTER TABLE practicals ADD COLUMN card TEXT CHECK (card LIKE '{%}');
ALTER TABLE practicals ADD COLUMN card_sha256 TEXT CHECK (length(card_sha256) = 64);
ALTER TABLE practicals ADD COLUMN opened_utc TEXT;
ALTER TABLE practicals ADD COLUMN closed_utc TEXT;
CREATE TRIGGER cards_are_never_changed BEFORE UPDATE ON practicals
WHEN OLD.card IS NOT NULL AND (NEW.card IS NOT OLD.card OR NEW.card_sha256 IS NOT OLD.card_sha256 OR NEW.loans <> OLD.loans)
BEGIN SELECT raise(ABORT, 'a prediction card is never changed'); END;

-- Two words each, so that people can be told apart in a room without being known; and the observer
-- whose eyes were lent: 'own' for those who drew their own, nothing for those who drew none.
ALTER TABLE sittings ADD COLUMN pseudonym TEXT NOT NULL DEFAULT '' CHECK (length(pseudonym) <= 64);
ALTER TABLE sittings ADD COLUMN loan TEXT CHECK (length(loan) BETWEEN 1 AND 64);
-- What was agreed to, purpose by purpose: nothing was asked of older sittings but the outcome.
ALTER TABLE sittings ADD COLUMN consent_text INTEGER NOT NULL DEFAULT 1 CHECK (consent_text > 0);
ALTER TABLE sittings ADD COLUMN for_class INTEGER NOT NULL DEFAULT 0 CHECK (for_class IN (0, 1));
ALTER TABLE sittings ADD COLUMN for_research INTEGER NOT NULL DEFAULT 0 CHECK (for_research IN (0, 1));
CREATE UNIQUE INDEX pseudonyms_of_practical ON sittings (practical_id, pseudonym) WHERE pseudonym <> '';
)sql";

constexpr std::string_view courses_and_examiners = R"sql(
ALTER TABLE practicals ADD COLUMN course TEXT NOT NULL DEFAULT '' CHECK (length(course) <= 64);
ALTER TABLE practicals ADD COLUMN course_group TEXT NOT NULL DEFAULT '' CHECK (length(course_group) <= 64);
-- What becomes of late, hesitating and corrected answers: nothing, a note, or a miss.
ALTER TABLE practicals ADD COLUMN lateness TEXT NOT NULL DEFAULT 'ignore'
  CHECK (lateness IN ('ignore', 'note', 'miss'));
-- Whether some plates come again at the end.
ALTER TABLE practicals ADD COLUMN again INTEGER NOT NULL DEFAULT 0 CHECK (again IN (0, 1));
-- The day after which everything of it is removed.
ALTER TABLE practicals ADD COLUMN keep_until TEXT CHECK (length(keep_until) = 10);

-- Who enters the readings; with which eye; and what the sittings of one person have in common.
ALTER TABLE sittings ADD COLUMN way TEXT NOT NULL DEFAULT 'self' CHECK (way IN ('self', 'examined'));
ALTER TABLE sittings ADD COLUMN eye TEXT NOT NULL DEFAULT 'both' CHECK (eye IN ('both', 'right', 'left'));
ALTER TABLE sittings ADD COLUMN person TEXT CHECK (length(person) = 32);
-- Of the code with which the outcome may be asked for later, from any device.
ALTER TABLE sittings ADD COLUMN collect_sha256 TEXT CHECK (length(collect_sha256) = 64);
-- The same plates for another display, where the device needed them; nothing: the practical's own.
ALTER TABLE sittings ADD COLUMN set_hash TEXT CHECK (length(set_hash) = 64);
ALTER TABLE sittings ADD COLUMN display TEXT CHECK (length(display) BETWEEN 1 AND 64);
DROP INDEX pseudonyms_of_practical;
CREATE UNIQUE INDEX pseudonyms_of_practical ON sittings (practical_id, pseudonym, eye) WHERE pseudonym <> '';
CREATE UNIQUE INDEX codes_to_collect ON sittings (collect_sha256) WHERE collect_sha256 IS NOT NULL;

-- Once more, because a plate may come a second time: in the round of those, or because a reading
-- was void; `repeats` is the item that was.
CREATE TABLE items_made_anew (
  sitting_id TEXT NOT NULL REFERENCES sittings (sitting_id) ON DELETE CASCADE,
  item       INTEGER NOT NULL CHECK (item >= 0),
  round      TEXT NOT NULL CHECK (round IN ('warm-up', 'first', 'which-kind', 'blue-yellow', 'again')),
  plate      INTEGER NOT NULL CHECK (plate >= 0),
  plate_id   TEXT NOT NULL UNIQUE CHECK (length(plate_id) = 32 AND plate_id NOT GLOB '*[^0-9a-f]*'),
  repeats    INTEGER CHECK (repeats >= 0 AND repeats < item),
  PRIMARY KEY (sitting_id, item),
  UNIQUE (sitting_id, repeats)
) STRICT;
INSERT INTO items_made_anew (sitting_id, item, round, plate, plate_id)
  SELECT sitting_id, item, round, plate, plate_id FROM items;

CREATE TABLE answers_made_anew (
  answer_id   TEXT PRIMARY KEY CHECK (length(answer_id) = 32 AND answer_id NOT GLOB '*[^0-9a-f]*'),
  sitting_id  TEXT NOT NULL,
  item        INTEGER NOT NULL,
  symbols     TEXT NOT NULL CHECK (symbols LIKE '[%]'),
  end         TEXT NOT NULL CHECK (end IN ('answered', 'late', 'expired', 'interrupted')),
  onset_ms    REAL NOT NULL CHECK (abs(onset_ms) <= 1e12),
  response_ms REAL CHECK (abs(response_ms) <= 1e12),
  shown_ms    REAL NOT NULL CHECK (shown_ms BETWEEN 0 AND 1e12),
  frames      INTEGER NOT NULL CHECK (frames BETWEEN 0 AND 1000000000),
  hidden      INTEGER NOT NULL CHECK (hidden IN (0, 1)),
  page_load   TEXT NOT NULL CHECK (length(page_load) = 32),
  body_sha256 TEXT NOT NULL CHECK (length(body_sha256) = 64),
  received_utc       TEXT NOT NULL,
  received_steady_ns INTEGER NOT NULL,
  hesitated     INTEGER NOT NULL DEFAULT 0 CHECK (hesitated IN (0, 1)),
  first_symbols TEXT CHECK (first_symbols LIKE '[%]'),
  dropped       INTEGER NOT NULL DEFAULT 0 CHECK (dropped BETWEEN 0 AND 1000000000),
  UNIQUE (sitting_id, item),
  FOREIGN KEY (sitting_id, item) REFERENCES items_made_anew (sitting_id, item) ON DELETE CASCADE,
  CHECK ((end IN ('answered', 'late')) = (response_ms IS NOT NULL)),
  CHECK (end IN ('answered', 'late') OR (symbols = '[]' AND hesitated = 0 AND first_symbols IS NULL))
) STRICT;
INSERT INTO answers_made_anew (answer_id, sitting_id, item, symbols, end, onset_ms, response_ms, shown_ms, frames, hidden,
    page_load, body_sha256, received_utc, received_steady_ns)
  SELECT answer_id, sitting_id, item, symbols, end, onset_ms, response_ms, shown_ms, frames, hidden, page_load, body_sha256,
    received_utc, received_steady_ns FROM answers;

CREATE TABLE refused_answers_made_anew (
  answer_id   TEXT NOT NULL CHECK (length(answer_id) = 32),
  sitting_id  TEXT NOT NULL,
  item        INTEGER NOT NULL,
  reason      TEXT NOT NULL CHECK (reason IN ('conflict', 'late')),
  symbols     TEXT NOT NULL CHECK (symbols LIKE '[%]'),
  end         TEXT NOT NULL,
  onset_ms    REAL NOT NULL,
  response_ms REAL,
  shown_ms    REAL NOT NULL,
  frames      INTEGER NOT NULL,
  hidden      INTEGER NOT NULL,
  page_load   TEXT NOT NULL,
  body_sha256 TEXT NOT NULL,
  received_utc       TEXT NOT NULL,
  received_steady_ns INTEGER NOT NULL,
  hesitated     INTEGER NOT NULL DEFAULT 0,
  first_symbols TEXT CHECK (first_symbols LIKE '[%]'),
  dropped       INTEGER NOT NULL DEFAULT 0,
  PRIMARY KEY (sitting_id, answer_id, reason, body_sha256),
  FOREIGN KEY (sitting_id, item) REFERENCES items_made_anew (sitting_id, item) ON DELETE CASCADE
) STRICT;
INSERT INTO refused_answers_made_anew (answer_id, sitting_id, item, reason, symbols, end, onset_ms, response_ms, shown_ms, frames,
    hidden, page_load, body_sha256, received_utc, received_steady_ns)
  SELECT answer_id, sitting_id, item, reason, symbols, end, onset_ms, response_ms, shown_ms, frames, hidden, page_load, body_sha256,
    received_utc, received_steady_ns FROM refused_answers;

DROP TABLE answers;
DROP TABLE refused_answers;
DROP TABLE items;
ALTER TABLE items_made_anew RENAME TO items;
ALTER TABLE answers_made_anew RENAME TO answers;
ALTER TABLE refused_answers_made_anew RENAME TO refused_answers;
CREATE TRIGGER answers_are_never_changed BEFORE UPDATE ON answers
BEGIN SELECT raise(ABORT, 'an answer is never changed'); END;

-- What was drawn over a path's plate: points as x, y (0 to 1 of the picture) and ms since onset.
CREATE TABLE strokes (
  sitting_id TEXT NOT NULL,
  item       INTEGER NOT NULL,
  stroke     INTEGER NOT NULL CHECK (stroke BETWEEN 0 AND 63),
  points     TEXT NOT NULL CHECK (points LIKE '[%]'),
  PRIMARY KEY (sitting_id, item, stroke),
  FOREIGN KEY (sitting_id, item) REFERENCES items (sitting_id, item) ON DELETE CASCADE
) STRICT;

-- Readings that an examiner declared void. What was read stays where it is.
CREATE TABLE voids (
  sitting_id TEXT NOT NULL,
  item       INTEGER NOT NULL,
  reason     TEXT NOT NULL CHECK (reason IN ('interrupted', 'not looking', 'wrong entry', 'other')),
  voided_utc TEXT NOT NULL,
  PRIMARY KEY (sitting_id, item),
  FOREIGN KEY (sitting_id, item) REFERENCES items (sitting_id, item) ON DELETE CASCADE
) STRICT;
CREATE TRIGGER voids_are_never_changed BEFORE UPDATE ON voids
BEGIN SELECT raise(ABORT, 'a void reading stays void'); END;

-- The technique of an examined sitting, as a supervisor signed it off.
CREATE TABLE sign_offs (
  sitting_id TEXT PRIMARY KEY REFERENCES sittings (sitting_id) ON DELETE CASCADE,
  done       TEXT NOT NULL CHECK (done LIKE '[%]'),
  examiner   TEXT NOT NULL CHECK (length(examiner) BETWEEN 1 AND 64),
  supervisor TEXT NOT NULL CHECK (length(supervisor) BETWEEN 1 AND 64),
  remark     TEXT NOT NULL CHECK (length(remark) <= 500),
  signed_utc TEXT NOT NULL
) STRICT;
CREATE TRIGGER sign_offs_are_never_changed BEFORE UPDATE ON sign_offs
BEGIN SELECT raise(ABORT, 'a signature is never changed'); END;

-- Who took part, for credit: in alphabetical order, with nothing that leads to an answer.
CREATE TABLE participations (
  practical_id TEXT NOT NULL REFERENCES practicals (practical_id) ON DELETE RESTRICT,
  entry        TEXT NOT NULL CHECK (length(entry) BETWEEN 1 AND 64),
  PRIMARY KEY (practical_id, entry)
) STRICT, WITHOUT ROWID;

-- What the class made of answer sheets without names: from 1, surely normal, to 5, surely not.
CREATE TABLE sheet_ratings (
  rater      TEXT NOT NULL CHECK (length(rater) = 32),
  sitting_id TEXT NOT NULL REFERENCES sittings (sitting_id) ON DELETE CASCADE,
  rating     INTEGER NOT NULL CHECK (rating BETWEEN 1 AND 5),
  kind       TEXT NOT NULL CHECK (kind IN ('normal', 'protan', 'deutan', 'tritan')),
  PRIMARY KEY (rater, sitting_id)
) STRICT;
)sql";

constexpr std::string_view migrations_table = R"sql(
CREATE TABLE IF NOT EXISTS migrations (
  version     INTEGER PRIMARY KEY,
  name        TEXT NOT NULL,
  sha256      TEXT NOT NULL CHECK (length(sha256) = 64),
  applied_utc TEXT NOT NULL
) STRICT;
)sql";

const std::array steps_of_this_program = {
    Migration{"practicals and sittings", practicals_and_sittings},
    Migration{"display records", display_records},
    Migration{"classes", classes},
    Migration{"log", audit_log_schema},
    Migration{"courses and examiners", courses_and_examiners},
};

/// Whose database it is, judged by its mark; an empty one is anybody's. And whether it is one that
/// this program can bring up to date.
Result<SchemaMark> checked_mark(Database& database, std::span<const Migration> steps,
                                const std::string& file) {
  COPUNCTAL_TRY(const SchemaMark mark, database.schema_mark());
  const std::string another =
      database.is_postgres() ? "another database" : "another data directory";
  if (mark.application != application_id && (mark.application != 0 || !mark.is_empty))
    return fail(Error::Kind::bad_input, file + ": this database was made by another program",
                "database", file, "choose " + another);
  if (mark.version > static_cast<std::int64_t>(steps.size()))
    return fail(Error::Kind::io,
                file + ": the database has schema " + std::to_string(mark.version) +
                    ", newer than this program, which knows up to " + std::to_string(steps.size()),
                "database", file, "use the newer program, or " + another);
  if (mark.version < 0 || (mark.version > 0 && steps.empty()))
    return fail(Error::Kind::bad_input, file + ": impossible schema number", "database", file,
                "restore a backup");
  return mark;
}

/// What a step is known by: the script as it is written.
std::string_view script_of(const Migration& step, const Database& database) {
  return database.is_postgres() && !step.postgres.empty() ? step.postgres : step.script;
}

Result<void> check_steps(Database& database, std::int64_t version, std::span<const Migration> steps,
                         const std::string& file) {
  for (std::int64_t number = 1; number <= version; ++number) {
    const Migration& step = steps[static_cast<std::size_t>(number - 1)];
    COPUNCTAL_TRY(Statement applied,
                  database.prepare("SELECT sha256 FROM migrations WHERE version = ?1"));
    COPUNCTAL_TRY(const bool is_there, applied.bind(number).step());
    if (is_there && applied.text(0) == sha256_hex(script_of(step, database))) continue;
    return fail(Error::Kind::bad_input,
                file + ": schema step " + std::to_string(number) + " ('" + std::string(step.name) +
                    "') is not the one this program knows",
                "database", file, "use the program that made this database, or another directory");
  }
  return {};
}

Result<void> take_step(Database& database, std::int64_t number, const Migration& step,
                       std::string_view now_utc) {
  const std::string script(script_of(step, database));
  COPUNCTAL_TRY_VOID(step.postgres == script ? database.run_as_it_is(script)
                                             : database.run(script));
  COPUNCTAL_TRY(Statement note, database.prepare("INSERT INTO migrations VALUES (?1, ?2, ?3, ?4)"));
  return note.bind(number)
      .bind(step.name)
      .bind(sha256_hex(script_of(step, database)))
      .bind(now_utc)
      .run();
}

Result<void> take_steps(Database& database, std::int64_t from, std::span<const Migration> steps,
                        std::string_view now_utc) {
  COPUNCTAL_TRY_VOID(database.make_schema());
  if (auto made = database.run(std::string(migrations_table)); !made) return made;
  for (auto index = static_cast<std::size_t>(from); index < steps.size(); ++index)
    if (auto taken =
            take_step(database, static_cast<std::int64_t>(index) + 1, steps[index], now_utc);
        !taken)
      return taken;
  COPUNCTAL_TRY(const bool is_logged, has_log(database));
  const bool is_news = from < static_cast<std::int64_t>(steps.size());
  if (is_logged && is_news)
    COPUNCTAL_TRY_VOID(
        append_to_log(database, LogEvent::migration, now_utc, "",
                      "schema " + std::to_string(from) + " to " + std::to_string(steps.size())));
  COPUNCTAL_TRY_VOID(database.mark_schema(static_cast<std::int64_t>(steps.size())));
  return database.run("COMMIT");
}

}  // namespace

std::span<const Migration> all_migrations() {
  return steps_of_this_program;
}

Result<void> migrate(Database& database, std::string_view now_utc, const std::string& file,
                     std::span<const Migration> steps) {
  COPUNCTAL_TRY(const SchemaMark seen, checked_mark(database, steps, file));
  if (auto same = check_steps(database, seen.version, steps, file); !same) return same;
  if (seen.version == static_cast<std::int64_t>(steps.size())) return {};

  // Looked at once more, now that nobody else can change it: another server may have been faster.
  if (auto begun = database.begin_writing(); !begun) return begun;
  auto taken = [&]() -> Result<void> {
    COPUNCTAL_TRY(const SchemaMark mark, checked_mark(database, steps, file));
    COPUNCTAL_TRY_VOID(check_steps(database, mark.version, steps, file));
    return take_steps(database, mark.version, steps, now_utc);
  }();
  if (!taken && database.in_transaction()) (void)database.run("ROLLBACK");
  return taken;
}

}  // namespace copunctal
