#include "copunctal/store/postgres_library.h"

#include <dlfcn.h>

namespace copunctal {
namespace {

Result<PostgresLibrary> loaded() {
  void* library = dlopen("libpq.so.5", RTLD_NOW | RTLD_LOCAL);
  if (library == nullptr)
    return fail(Error::Kind::unsupported,
                "PostgreSQL's client library (libpq.so.5) is not installed", "libpq", "libpq.so.5",
                "install the package libpq5");
  PostgresLibrary all{};
  const char* missing = nullptr;
  const auto find = [&](auto& function, const char* name) {
    function = reinterpret_cast<std::remove_reference_t<decltype(function)>>(dlsym(library, name));
    if (function == nullptr) missing = name;
  };
  find(all.conninfo_parse, "PQconninfoParse");
  find(all.conninfo_free, "PQconninfoFree");
  find(all.connect, "PQconnectdbParams");
  find(all.finish, "PQfinish");
  find(all.status, "PQstatus");
  find(all.transaction_status, "PQtransactionStatus");
  find(all.server_version, "PQserverVersion");
  find(all.error_message, "PQerrorMessage");
  find(all.pass, "PQpass");
  find(all.host, "PQhost");
  find(all.port, "PQport");
  find(all.db, "PQdb");
  find(all.user, "PQuser");
  find(all.set_notice_processor, "PQsetNoticeProcessor");
  find(all.exec, "PQexec");
  find(all.prepare, "PQprepare");
  find(all.enter_pipeline, "PQenterPipelineMode");
  find(all.exit_pipeline, "PQexitPipelineMode");
  find(all.send_query, "PQsendQueryParams");
  find(all.send_prepared, "PQsendQueryPrepared");
  find(all.pipeline_sync, "PQpipelineSync");
  find(all.next_result, "PQgetResult");
  find(all.socket, "PQsocket");
  find(all.consume_input, "PQconsumeInput");
  find(all.clear, "PQclear");
  find(all.result_status, "PQresultStatus");
  find(all.result_error_field, "PQresultErrorField");
  find(all.cmd_status, "PQcmdStatus");
  find(all.cmd_tuples, "PQcmdTuples");
  find(all.ntuples, "PQntuples");
  find(all.getvalue, "PQgetvalue");
  find(all.getlength, "PQgetlength");
  find(all.getisnull, "PQgetisnull");
  if (missing == nullptr) return all;
  return fail(Error::Kind::unsupported,
              std::string("PostgreSQL's client library lacks the function ") + missing, "libpq",
              missing, "install the package libpq5 of PostgreSQL 15 or newer");
}

}  // namespace

Result<const PostgresLibrary*> postgres_library() {
  static const Result<PostgresLibrary> library = loaded();
  if (!library) return tl::unexpected(library.error());
  return &*library;
}

}  // namespace copunctal
