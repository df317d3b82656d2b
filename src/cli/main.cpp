#include "cli/session.h"

int main(int argc, char** argv) {
  CLI::App root(
      "nightglass: everything around the shutter of a small deep-sky telescope.\n"
      "Dusk - before dark; Night - under the sky; Dawn - from the night's files to the picture.");
  root.require_subcommand(1);
  root.set_version_flag("--version", std::string("nightglass ") + NG_VERSION);

  ng::cli::Session session;
  ng::cli::add_init(root, session);
  ng::cli::add_sky(root, session);
  ng::cli::add_tonight(root, session);
  ng::cli::add_expose(root, session);
  ng::cli::add_compose(root, session);
  ng::cli::add_schedule(root, session);
  ng::cli::add_power(root, session);
  ng::cli::add_rehearse(root, session);
  ng::cli::add_measure(root, session);
  ng::cli::add_reduce(root, session);
  ng::cli::add_finish(root, session);
  ng::cli::add_solve(root, session);
  ng::cli::add_pole(root, session);
  ng::cli::add_sensor(root, session);
  ng::cli::add_ingest(root, session);
  ng::cli::add_library(root, session);
  ng::cli::add_catalogue(root, session);
  ng::cli::add_serve(root, session);

  try {
    root.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return root.exit(error) == 0 ? 0 : 2;
  }
  return session.exit_code();
}
