# Cross build of the core for Cortex-M4F (single-precision FPU).
set(CMAKE_SYSTEM_NAME Generic)
set(CMAKE_SYSTEM_PROCESSOR arm)
set(CMAKE_CXX_COMPILER arm-none-eabi-g++)
set(CMAKE_TRY_COMPILE_TARGET_TYPE STATIC_LIBRARY)
set(CMAKE_CXX_FLAGS_INIT
  "-Wno-psabi -mcpu=cortex-m4 -mthumb -mfloat-abi=hard -mfpu=fpv4-sp-d16 -fno-threadsafe-statics -fno-unwind-tables -fno-asynchronous-unwind-tables -ffunction-sections -fdata-sections -DEIGEN_MAX_STATIC_ALIGN_BYTES=8")
# Eigen is headers only; the host's package serves.
set(HANGTRUE_EIGEN_DIR /usr/include/eigen3)
