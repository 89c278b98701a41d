// PostgreSQL's client library, loaded when a database is named: who keeps practicals in a file
// needs it not, nor waits for it.
//
// Internal to store/.
#pragma once

#include <libpq-fe.h>

#include "copunctal/base/result.h"

namespace copunctal {

/// The functions of libpq that we call, each by its own name.
struct PostgresLibrary {
  decltype(&PQconninfoParse) conninfo_parse;
  decltype(&PQconninfoFree) conninfo_free;
  decltype(&PQconnectdbParams) connect;
  decltype(&PQfinish) finish;
  decltype(&PQstatus) status;
  decltype(&PQtransactionStatus) transaction_status;
  decltype(&PQserverVersion) server_version;
  decltype(&PQerrorMessage) error_message;
  decltype(&PQpass) pass;
  decltype(&PQhost) host;
  decltype(&PQport) port;
  decltype(&PQdb) db;
  decltype(&PQuser) user;
  decltype(&PQsetNoticeProcessor) set_notice_processor;
  decltype(&PQexec) exec;
  decltype(&PQprepare) prepare;
  decltype(&PQenterPipelineMode) enter_pipeline;
  decltype(&PQexitPipelineMode) exit_pipeline;
  decltype(&PQsendQueryParams) send_query;
  decltype(&PQsendQueryPrepared) send_prepared;
  decltype(&PQpipelineSync) pipeline_sync;
  decltype(&PQgetResult) next_result;
  decltype(&PQsocket) socket;
  decltype(&PQconsumeInput) consume_input;
  decltype(&PQclear) clear;
  decltype(&PQresultStatus) result_status;
  decltype(&PQresultErrorField) result_error_field;
  decltype(&PQcmdStatus) cmd_status;
  decltype(&PQcmdTuples) cmd_tuples;
  decltype(&PQntuples) ntuples;
  decltype(&PQgetvalue) getvalue;
  decltype(&PQgetlength) getlength;
  decltype(&PQgetisnull) getisnull;
};

/// Loaded once, and kept. Error: unsupported where it is not installed.
Result<const PostgresLibrary*> postgres_library();

}  // namespace copunctal
