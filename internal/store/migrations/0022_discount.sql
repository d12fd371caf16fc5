-- What the owner takes off an order's goods, as a share.
ALTER TABLE orders ADD COLUMN discount TEXT NOT NULL DEFAULT '0';
