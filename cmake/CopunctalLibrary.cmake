# One static library per folder, its unit tests beside it, strict warnings for our own code only.

add_library(copunctal_strict INTERFACE)
target_compile_options(copunctal_strict INTERFACE
  -Wall -Wextra -Wpedantic -Wconversion -Wsign-conversion -Wshadow -Wold-style-cast
  -Wuseless-cast -Wdouble-promotion -Wnon-virtual-dtor -Woverloaded-virtual -Wimplicit-fallthrough
  -Wnull-dereference -Wduplicated-cond -Wduplicated-branches -Wlogical-op -Wformat=2 -Werror
  -ffp-contract=off
  # g++ 12 sees overlapping copies inside std::string's operator+ (GCC bug 105651).
  -Wno-restrict)
target_include_directories(copunctal_strict INTERFACE ${PROJECT_SOURCE_DIR}/src)
if(COPUNCTAL_SANITIZE)
  # g++ 12 finds null dereferences that are not there once sanitizers have rewritten the code.
  target_compile_options(copunctal_strict INTERFACE -fsanitize=${COPUNCTAL_SANITIZE} -fno-sanitize-recover=all
    -fno-omit-frame-pointer -Wno-null-dereference -Wno-maybe-uninitialized)
  target_link_options(copunctal_strict INTERFACE -fsanitize=${COPUNCTAL_SANITIZE})
  target_compile_definitions(copunctal_strict INTERFACE _GLIBCXX_ASSERTIONS)
endif()

# Tests are compiled more than they are run; what they test is compiled as ever.
add_library(copunctal_of_tests INTERFACE)
target_compile_options(copunctal_of_tests INTERFACE $<$<CONFIG:Release>:-O1>)

# copunctal_library(folder [LINKS lib...] [SYSTEM lib...]): every .cpp of the folder but its tests
# makes library copunctal_<folder>; every *_test.cpp makes test program <folder>_test.
function(copunctal_library folder)
  cmake_parse_arguments(ARG "" "" "LINKS;PRIVATE_LINKS" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/*.cpp)
  set(tests ${sources})
  list(FILTER tests INCLUDE REGEX "_test\\.cpp$")
  list(FILTER sources EXCLUDE REGEX "(_test|/main)\\.cpp$")
  if(sources)
    add_library(copunctal_${folder} STATIC ${sources})
    target_link_libraries(copunctal_${folder} PUBLIC copunctal_strict ${ARG_LINKS} PRIVATE ${ARG_PRIVATE_LINKS})
  else()
    add_library(copunctal_${folder} INTERFACE)
    target_link_libraries(copunctal_${folder} INTERFACE copunctal_strict ${ARG_LINKS})
  endif()
  if(tests)
    copunctal_test(${folder}_test SOURCES ${tests} LINKS copunctal_${folder} ${ARG_PRIVATE_LINKS})
  endif()
endfunction()

# copunctal_test(name SOURCES file... LINKS lib...): one GoogleTest program, one ctest entry.
function(copunctal_test name)
  cmake_parse_arguments(ARG "" "" "SOURCES;LINKS" ${ARGN})
  add_executable(${name} ${ARG_SOURCES})
  target_link_libraries(${name} PRIVATE ${ARG_LINKS} copunctal_strict copunctal_of_tests GTest::gtest GTest::gtest_main)
  target_precompile_headers(${name} REUSE_FROM copunctal_tests_precompiled)
  target_compile_definitions(${name} PRIVATE COPUNCTAL_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
  add_test(NAME ${name} COMMAND ${name})
endfunction()
