// The commands, each with its options as plain values. Every one returns the program's exit code.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "copunctal/base/result.h"
#include "copunctal/design/make_set.h"
#include "copunctal/observer/observer.h"

namespace copunctal {

struct ServeOptions {
  std::string data;      ///< Empty: ~/.local/share/copunctal.
  std::string database;  ///< Address of a PostgreSQL database; empty: DIR/copunctal.db.
  std::string set;       ///< Empty: the default set, made when it is missing.
  std::string display = "srgb";
  std::string seed = "1";
  std::uint16_t port = 8471;
  bool lan = false, lan_plain = false;  ///< Let a class in: encrypted, or not. Not both.
  std::string interface;                ///< For the class; empty: the only one there is.
};
int serve_command(const ServeOptions& options);

struct PreflightOptions {
  ServeOptions served;   ///< Of these: data, port, and how the class is let in.
  unsigned seconds = 0;  ///< Ends by itself after so many; 0: when it is interrupted.
  bool json = false;
};
int preflight_command(const PreflightOptions& options);

struct RehearseOptions {
  ServeOptions served;  ///< Of these: data, set, display, port; seed is the set's.
  std::size_t people = 30;
  std::string seed = "1";  ///< Of the class.
  unsigned seconds = 60;   ///< Over which it answers.
  bool alone = false, wipe = false, json = false;
};
int rehearse_command(const RehearseOptions& options);

struct PlatesMakeOptions {
  std::string out, purpose, display, seed, symbols = "digits", loan;
  int cells = usual_cells;
  std::size_t plates = usual_plates;  ///< Of a practical.
  std::optional<double> minutes;      ///< Instead: as many as there is time for.
  bool json = false;
};
int plates_make(const PlatesMakeOptions& options);

struct PlatesPredictOptions {
  std::string set;
  std::optional<std::string> display;  ///< Another than the set was made for.
  std::size_t population = 400;
  std::size_t sittings = 0;  ///< To simulate, of each kind.
  bool ranges = false;       ///< Vary the assumptions.
  double gain = 0;           ///< Post-receptoral, of anomalous observers.
  std::string fails;         ///< A plate to ask how it fails; empty: none.
  bool json = false;
};
int plates_predict(const PlatesPredictOptions& options);

struct PlatesShowOptions {
  std::string set, out, plate, observer = "normal", display;  ///< No display: the set's own.
  bool apart = false, force = false;
};
int plates_show(const PlatesShowOptions& options);

struct PlatesDrawOptions {
  std::string set, out, plate, printer_profile;
  int bits = 8, size_px = 640;
  double width_mm = 150;
  bool answer_sheet = false, force = false;
};
int plates_draw(const PlatesDrawOptions& options);

struct ScoreOptions {
  std::string answers, set;
  bool is_template = false, json = false;
};
int score_command(const ScoreOptions& options);

/// What `practical` and its commands take; each uses its own.
struct PracticalOptions {
  std::string data;      ///< Empty: ~/.local/share/copunctal.
  std::string database;  ///< Address of a PostgreSQL database; empty: DIR/copunctal.db.
  std::string id, sitting, file, out, csv, head;
  bool yes = false, verify = false, force = false, json = false;
};
int practical_list(const PracticalOptions& options);
int practical_export(const PracticalOptions& options);
int practical_import(const PracticalOptions& options);
int practical_delete(const PracticalOptions& options);
int practical_backup(const PracticalOptions& options);
int practical_restore(const PracticalOptions& options);
int practical_log(const PracticalOptions& options);

/// The directory of practicals: the one named, or ~/.local/share/copunctal. Error: usage.
Result<std::string> data_directory(const std::string& named);

struct ViewOptions {
  std::vector<std::string> in;
  std::string out, observer, display = "srgb";
  std::optional<std::string> method;
  bool exact = false, all_pages = false, trusted = false, force = false, json = false;
};
int view_command(const ViewOptions& options);

struct AuditOptions {
  std::string original, view, observer, display = "srgb";
  std::string map;                    ///< A picture to write; empty: none.
  std::optional<std::string> method;  ///< To audit, in place of two pictures.
  int grid = 18;                      ///< Steps of each channel, with a method.
  std::optional<double> fail_above;
  bool trusted = false, force = false, json = false;
};
int audit_command(const AuditOptions& options);

struct ObserverOptions {
  std::string kind;
  std::optional<double> separation_nm, age, field, density_l, density_m, density_s;
  std::string display = "srgb";
  std::string plot;             ///< SVG to write; empty: none.
  std::size_t individuals = 0;  ///< To draw in it around the observer.
  bool force = false, json = false;
};
int observer_table(const ObserverOptions& options);
int observer_describe(const ObserverOptions& options);
/// Writes the figure, if one is asked for. Errors: usage, bad_input, io.
Result<void> plot_observer(const ObserverOptions& options, const Observer& observer);
/// The observer the options name. Errors: usage.
Result<Observer> observer_of(const ObserverOptions& options);

struct DisplayDescribeOptions {
  std::string display, plot;
  bool force = false, json = false;
};
int display_describe(const DisplayDescribeOptions& options);

int display_list(bool json);
int sources_command(const std::optional<std::string>& name, bool json);

/// A set's seed: a whole number below 2^53. Error: usage.
Result<std::uint64_t> seed_from(const std::string& text);

/// Prints an error (message and remedy) on standard error; returns its exit code.
int failed(const Error& error);

}  // namespace copunctal
