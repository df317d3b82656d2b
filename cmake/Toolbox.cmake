# Quick builds where the tools are present, and the same strictness everywhere.
find_program(NG_CCACHE ccache)
if(NG_CCACHE)
  set(CMAKE_C_COMPILER_LAUNCHER ${NG_CCACHE})
  set(CMAKE_CXX_COMPILER_LAUNCHER ${NG_CCACHE})
endif()
find_program(NG_MOLD mold)
if(NG_MOLD)
  add_link_options(-fuse-ld=mold)
endif()

# -ffp-contract=off: the same bits on every processor; where fused multiply-add pays, the code asks for it by name.
# Nobody looks at errno or at the floating-point exception flags; loops that compare or divide may then be vectorised.
add_compile_options(-Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wno-sign-conversion -Wnon-virtual-dtor
                    -Woverloaded-virtual -Wunused-result -ffp-contract=off -fno-math-errno -fno-trapping-math)
# GCC 12 warns falsely of overlapping copies in std::string operator+ (GCC bug 105651).
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU" AND CMAKE_CXX_COMPILER_VERSION VERSION_LESS 13)
  add_compile_options(-Wno-restrict)
endif()
if(NG_WARNINGS_AS_ERRORS)
  add_compile_options(-Werror)
endif()
if(NG_SANITIZE)
  add_compile_options(-fsanitize=${NG_SANITIZE} -fno-omit-frame-pointer)
  add_link_options(-fsanitize=${NG_SANITIZE})
endif()

# Processors of the last fifteen years; vector code goes beyond that at run time (Highway).
if(CMAKE_SYSTEM_PROCESSOR STREQUAL "x86_64")
  add_compile_options(-march=x86-64-v2)
endif()
