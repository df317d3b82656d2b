# Code that runs once and only talks (options, tests) is compiled with little optimisation, in two thirds of the time.
set(NG_LIGHT $<$<CONFIG:Release>:-O1>)

# ng_library(NAME [DEPENDS ng folders...] [LIBRARIES third-party targets...] [INTERFACES third-party targets in our headers...])
#
# Makes ng_<NAME> from every *.cpp of the current folder and below, except *_test.cpp and *_bench.cpp. The tests become the
# program ng_<NAME>_test, registered test by test with CTest. Public headers are included as "folder/header.h".
function(ng_library NAME)
  cmake_parse_arguments(ARG "" "" "DEPENDS;LIBRARIES;INTERFACES" ${ARGN})
  file(GLOB_RECURSE SOURCES CONFIGURE_DEPENDS *.cpp)
  file(GLOB_RECURSE HEADERS CONFIGURE_DEPENDS *.h)
  set(TESTS ${SOURCES})
  list(FILTER TESTS INCLUDE REGEX "_test\\.cpp$")
  list(FILTER SOURCES EXCLUDE REGEX "(_test|_bench)\\.cpp$")
  list(TRANSFORM ARG_DEPENDS PREPEND ng_)

  if(SOURCES)
    add_library(ng_${NAME} STATIC ${SOURCES} ${HEADERS})
    set(SCOPE PUBLIC)
    target_link_libraries(ng_${NAME} PRIVATE ${ARG_LIBRARIES})
  else()
    add_library(ng_${NAME} INTERFACE)
    set(SCOPE INTERFACE)
  endif()
  target_include_directories(ng_${NAME} ${SCOPE} ${PROJECT_SOURCE_DIR}/src)
  target_link_libraries(ng_${NAME} ${SCOPE} ${ARG_DEPENDS} ${ARG_INTERFACES})

  if(TESTS)
    add_executable(ng_${NAME}_test ${TESTS})
    target_link_libraries(ng_${NAME}_test PRIVATE ng_${NAME} ${ARG_LIBRARIES} GTest::gmock GTest::gtest_main)
    target_compile_definitions(ng_${NAME}_test PRIVATE NG_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
    target_compile_options(ng_${NAME}_test PRIVATE ${NG_LIGHT})
    gtest_discover_tests(ng_${NAME}_test TEST_PREFIX ${NAME}: DISCOVERY_TIMEOUT 60 PROPERTIES TIMEOUT 600)
  endif()
endfunction()
