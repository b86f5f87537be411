// The source of random numbers that programs of today ask Windows for, for runners that do not have it yet.
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID bytes, ULONG count);

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE bytes, SIZE_T count) { return SystemFunction036(bytes, (ULONG)count); }
