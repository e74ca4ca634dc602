//! What only the store itself can be asked: steps from every earlier version, a full disk.
