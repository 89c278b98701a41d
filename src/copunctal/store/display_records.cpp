#include "copunctal/store/database.h"
#include "copunctal/store/records.h"

namespace copunctal {
namespace {

constexpr std::string_view select_records =
    "SELECT number, record_id, made_utc, expires_utc, ended, ended_utc, display, card_px,"
    " device_pixel_ratio, screen_width_px, screen_height_px, screen_left_px, screen_top_px,"
    " colour_depth, gamut, black_step, white_step, neutral, night_mode_off, adapted, room_light,"
    " statement, refresh_hz, frame_spread_ms, dropped_frames"
    " FROM display_records WHERE ?1 IS NULL OR record_id = ?1 ORDER BY number DESC LIMIT 1";

template <class T, class Read>
std::optional<T> or_nothing(const Statement& row, int column, Read read) {
  if (row.is_null(column)) return std::nullopt;
  return (row.*read)(column);
}
std::optional<std::string> text_or_nothing(const Statement& row, int column) {
  return or_nothing<std::string>(row, column, &Statement::text);
}
std::optional<double> real_or_nothing(const Statement& row, int column) {
  return or_nothing<double>(row, column, &Statement::real);
}
std::optional<std::int64_t> whole_or_nothing(const Statement& row, int column) {
  return or_nothing<std::int64_t>(row, column, &Statement::whole);
}

DisplayRecord record_in(const Statement& row) {
  return {.id = row.text(1),
          .made_utc = row.text(2),
          .expires_utc = row.text(3),
          .ended = text_or_nothing(row, 4),
          .ended_utc = text_or_nothing(row, 5),
          .check = {.display = row.text(6),
                    .card_px = real_or_nothing(row, 7),
                    .device_pixel_ratio = row.real(8),
                    .screen_px = {row.whole(9), row.whole(10)},
                    .screen_at = {row.whole(11), row.whole(12)},
                    .colour_depth = row.whole(13),
                    .gamut = row.text(14),
                    .tone_matches = {},
                    .black_step = whole_or_nothing(row, 15),
                    .white_step = whole_or_nothing(row, 16),
                    .neutral = text_or_nothing(row, 17),
                    .night_mode_off = row.whole(18) != 0,
                    .adapted = row.whole(19) != 0,
                    .room_light = text_or_nothing(row, 20),
                    .statement = row.text(21),
                    .refresh_hz = real_or_nothing(row, 22),
                    .frame_spread_ms = real_or_nothing(row, 23),
                    .dropped_frames = whole_or_nothing(row, 24)}};
}

Result<std::vector<ToneMatch>> matches_of(Database& database, std::int64_t number) {
  COPUNCTAL_TRY(Statement rows, database.prepare("SELECT channel, share, code FROM tone_matches"
                                                 " WHERE record_number = ?1 ORDER BY place"));
  rows.bind(number);
  std::vector<ToneMatch> matches;
  for (;;) {
    COPUNCTAL_TRY(const bool has_row, rows.step());
    if (!has_row) return matches;
    matches.push_back({rows.text(0), rows.real(1), rows.whole(2)});
  }
}

Result<std::optional<DisplayRecord>> record_where(Database& database,
                                                  std::optional<std::string_view> id) {
  COPUNCTAL_TRY(Statement row, database.prepare(select_records));
  COPUNCTAL_TRY(const bool is_there, row.bind(id).step());
  if (!is_there) return std::nullopt;
  DisplayRecord record = record_in(row);
  COPUNCTAL_TRY(record.check.tone_matches, matches_of(database, row.whole(0)));
  return record;
}

}  // namespace

Result<std::optional<DisplayRecord>> Records::display_record(std::string_view id) const {
  return record_where(*database_, id);
}

Result<std::optional<DisplayRecord>> Records::newest_display_record() const {
  return record_where(*database_, std::nullopt);
}

Result<void> Changes::add(const DisplayRecord& record) {
  const ScreenCheck& check = record.check;
  {
    COPUNCTAL_TRY(
        Statement row,
        database_->prepare(
            "INSERT INTO display_records (record_id, made_utc, expires_utc, ended, ended_utc,"
            " display, card_px, device_pixel_ratio, screen_width_px, screen_height_px,"
            " screen_left_px, screen_top_px, colour_depth, gamut, black_step, white_step, neutral,"
            " night_mode_off, adapted, room_light, statement, refresh_hz, frame_spread_ms,"
            " dropped_frames) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14,"
            " ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24)"));
    row.bind(record.id)
        .bind(record.made_utc)
        .bind(record.expires_utc)
        .bind(record.ended)
        .bind(record.ended_utc)
        .bind(check.display)
        .bind(check.card_px)
        .bind(check.device_pixel_ratio)
        .bind(check.screen_px[0])
        .bind(check.screen_px[1])
        .bind(check.screen_at[0])
        .bind(check.screen_at[1])
        .bind(check.colour_depth)
        .bind(check.gamut)
        .bind(check.black_step)
        .bind(check.white_step)
        .bind(check.neutral)
        .bind(std::int64_t{check.night_mode_off})
        .bind(std::int64_t{check.adapted})
        .bind(check.room_light)
        .bind(check.statement)
        .bind(check.refresh_hz)
        .bind(check.frame_spread_ms)
        .bind(check.dropped_frames);
    if (auto added = row.run(); !added) return added;
  }
  for (std::size_t place = 0; place < check.tone_matches.size(); ++place) {
    const ToneMatch& match = check.tone_matches[place];
    COPUNCTAL_TRY(Statement row,
                  database_->prepare(
                      "INSERT INTO tone_matches (record_number, place, channel, share, code)"
                      " SELECT number, ?2, ?3, ?4, ?5 FROM display_records WHERE record_id = ?1"));
    row.bind(record.id)
        .bind(static_cast<std::int64_t>(place))
        .bind(match.channel)
        .bind(match.share)
        .bind(match.code);
    if (auto added = row.run(); !added) return added;
  }
  return {};
}

Result<void> Changes::end_display_record(std::string_view id, std::string_view reason,
                                         std::string_view ended_utc) {
  COPUNCTAL_TRY(Statement row, database_->prepare("UPDATE display_records SET ended = ?2,"
                                                  " ended_utc = ?3 WHERE record_id = ?1"));
  return row.bind(id).bind(reason).bind(ended_utc).run();
}

}  // namespace copunctal
